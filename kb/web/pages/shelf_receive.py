"""What comes onto the shelf: one container at a time, typed or scanned; or a whole list from a file."""

from __future__ import annotations

import base64
import binascii
from collections.abc import Mapping, Sequence
from typing import Any

from fastapi import APIRouter, Request
from starlette.datastructures import UploadFile
from starlette.responses import Response

from kb.base.errors import BadInput, TackroomError
from kb.stock.amounts import text
from kb.stock.interchange import brought, take_in
from kb.stock.items import STOCKED
from kb.stock.layout import remembered
from kb.stock.products import product_of
from kb.stock.receiving import degrees, receipt
from kb.stock.scan import read
from kb.stock.shelf_list import COLUMNS, KNOWN
from kb.stock.stores import Document
from kb.stock.view import event_text
from kb.web.desk import Desk, TheDesk
from kb.web.once import Seal
from kb.web.pages.common import Written
from kb.web.pages.shelf_forms import ahead_in, at_of, event, lot_address, once, refusal, said, who_of
from kb.web.render import page
from kb.work.forms import checked

router = APIRouter()
#: Fields of the form to receive a container, besides those that every event has.
FIELDS = ("item", "lot", "quantity", "unit", "received", "made", "expires", "storage_c", "location", "batch")
#: Ticked, the product number of the pack stands for its item from now on.
REMEMBER = "remember"
#: A list that is brought goes to the browser and back once; beyond this much it is for the command.
MOST_BYTES = 500_000
#: So many of the events that a file asks for are shown before they are recorded.
MOST_SHOWN = 200


@router.get("/shelf/receive")
def form(request: Request, desk: TheDesk) -> Response:
    """The form to receive a container, filled with what a scanned code holds."""
    typed = {name: request.query_params.get(name, "").strip() for name in (*FIELDS, "scanned_lot")}
    typed["scan"] = request.query_params.get("scan", "")
    if not typed["scan"]:
        return _form(request, desk, typed)
    try:
        held, note = _held(typed["scan"], typed["scanned_lot"], desk)
    except TackroomError as fault:
        return _form(request, desk, typed, **refusal(fault))
    return _form(request, desk, typed | held, note=note)


@router.post("/shelf/receive")
def receive(request: Request, desk: TheDesk, form: Written) -> Response:
    """Record the container, or show the form again with what stands against it."""
    try:
        return once(request, form, desk, lambda seal: _received(form, desk, seal))
    except TackroomError as fault:
        typed = {name: said(form, name) for name in form}
        return _form(request, desk, typed | {"scan": form.get("scan", "")}, **refusal(fault))


def _received(form: Mapping[str, Any], desk: Desk, seal: Seal) -> str:
    when, scan = at_of(form, desk), str(form.get("scan", ""))
    code = read(scan, when[:10], said(form, "scanned_lot") or None) if scan else None
    own: dict[str, Any] = {name: said(form, name) or None for name in FIELDS if name != "lot"}
    own["received"] = own["received"] or when[:10]
    own["storage_c"] = degrees(own["storage_c"], "storage_c")
    given = event("received", said(form, "lot"), form, desk, **own)
    draft = receipt(given, code, desk.products(), desk.items())
    address = _led_to(desk.ledger().record([draft], desk.day, ahead_in(form), seal.once(_led_to)))
    if code is not None and code.gtin and said(form, REMEMBER):
        pack = (str(own["item"]), own["quantity"], str(own["unit"] or ""))
        desk.products().put([product_of(code.gtin, *pack, None, desk.items().resolve)])
    return address


def _led_to(recorded: Sequence[Document]) -> str:
    return f"{lot_address(recorded[0]['lot'])}?done={recorded[0]['id']}"


def _held(scan: str, ends: str, desk: Desk) -> tuple[dict[str, str], str]:
    """Tell what a code holds, by field of the form; and what it doesn't say."""
    code = read(scan, desk.today.isoformat(), ends or None)
    product = desk.products().by_gtin.get(code.gtin or "")
    held = {"lot": code.lot, "made": code.made, "expires": code.expires, "received": desk.today.isoformat()}
    note = ""
    if product is not None:
        held["item"] = desk.items().name(product.item)
        if product.quantity is not None:
            held |= {"quantity": text(product.quantity), "unit": product.unit}
    elif code.gtin:
        note = (
            f"Product {code.gtin} is not in the table of products: say what it is. The next pack of it is known then."
        )
        held["unknown_product"] = code.gtin
    return {name: value for name, value in held.items() if value}, note


def _form(
    request: Request, desk: Desk, typed: Mapping[str, Any], status: int = 200, note: str = "", **more: Any
) -> Response:
    names = sorted(entry.name for kind in STOCKED for entry in desk.known.by_kind.get(kind, ()))
    values: dict[str, Any] = {"typed": typed, "names": names, "note": note, "fault": []} | more
    return page(request, "shelf_receive.html", status=status, title="Receive", **values)


# -- a list from a file


@router.get("/shelf/import")
def bring(request: Request, desk: TheDesk) -> Response:
    """Where a list is brought."""
    layout = remembered(desk.settings.workspace, KNOWN)
    return _list(request, layout=layout.text() if layout else "")


@router.post("/shelf/import")
def take(request: Request, desk: TheDesk, form: Written) -> Response:
    """What a list would put on the shelf; and, sent once more with `go`, put there: all of it or nothing."""
    try:
        content, name = _content(form)
        if said(form, "go"):
            return once(request, form, desk, lambda seal: _taken(content, name, form, desk, seal))
        events = _events(content, name, form, desk)
    except TackroomError as fault:
        return _list(request, **refusal(fault))
    shown = [event_text(one) for one in events[:MOST_SHOWN]]
    again = {"content": base64.b64encode(content).decode(), "name": name}
    again |= {field: said(form, field) for field in ("who", "ahead")}
    return _list(request, events=shown, count=len(events), again=again)


def _taken(content: bytes, name: str, form: Mapping[str, Any], desk: Desk, seal: Seal) -> str:
    _events(content, name, form, desk, seal)
    return "/shelf"


def _events(content: bytes, name: str, form: Mapping[str, Any], desk: Desk, seal: Seal | None = None) -> list[Document]:
    """Give the events that a file asks for: recorded, where the form is sealed, or else only shown."""
    layout = remembered(desk.settings.workspace, KNOWN)
    found = brought(content, name, desk.items(), at_of(form, desk), who_of(form, desk), layout)
    once = seal.once(lambda _: "/shelf") if seal else None
    place = (desk.ledger(), desk.settings.workspace, desk.day, checked)
    return take_in(found, *place, ahead_in(form), write=seal is not None, once=once)


def _content(form: Mapping[str, Any]) -> tuple[bytes, str]:
    """Give the bytes of the file, and what it is called.

    It was just chosen, or is as the page that showed its rows gives it back.
    """
    file = form.get("file")
    if isinstance(file, UploadFile):
        content, name = file.file.read(MOST_BYTES + 1), (file.filename or "").replace("\\", "/").rpartition("/")[2]
    else:
        try:
            content, name = base64.b64decode(said(form, "content"), validate=True), said(form, "name")
        except (binascii.Error, ValueError):
            raise BadInput("content", "is not what the page gave", "choose the file again") from None
    if not content:
        raise BadInput("file", "is empty", "choose a list (CSV)")
    if len(content) > MOST_BYTES:
        raise BadInput("file", f"has more than {MOST_BYTES // 1000} kB", "split it, or use `stock import`")
    return content, name[:100] or "file"


def _list(request: Request, status: int = 200, **more: Any) -> Response:
    values: dict[str, Any] = {
        "fault": [],
        "events": [],
        "count": 0,
        "again": {},
        "columns": COLUMNS,
        "layout": "",
    } | more
    return page(request, "shelf_import.html", status=status, title="Bring a list", **values)
