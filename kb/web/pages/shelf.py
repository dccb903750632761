"""The shelf: what is there, what may be used and until when, what needs somebody; and the field for a scanner."""

from __future__ import annotations

from urllib.parse import urlencode

from fastapi import APIRouter, Request
from markupsafe import Markup
from starlette.responses import RedirectResponse, Response

from kb.base.errors import BadInput, TackroomError
from kb.report.pictures.shelf import expiry_picture
from kb.rules.words import value_words
from kb.stock.amounts import text
from kb.stock.flags import Judged, flags, judged
from kb.stock.labels import labels_html
from kb.stock.products import padded
from kb.stock.scan import Code, is_code, read
from kb.stock.shelf_life import STATES, last_moment
from kb.stock.shelf_list import shelf_csv
from kb.stock.view import flags_groups
from kb.web.desk import Desk, TheDesk
from kb.web.pages.mending import mended
from kb.web.pages.paper import printed
from kb.web.pages.shelf_forms import day_in, lot_address, refusal
from kb.web.render import page
from kb.web.settings import is_loopback

router = APIRouter()
#: So many lots are listed on a page, and so many drawn.
MOST_ROWS, MOST_DRAWN = 50, 60
#: So many lines of what needs somebody are told before the lots; more are asked for.
MOST_LINES = 10
#: What the filter calls all that must not be used, for whatever reason.
BARRED = "barred"
#: The lots of a group of what needs somebody, as the filter has them.
_GROUPS = {"Must not be used": BARRED, "Use these first": "expires-soon"}
#: So many labels are made at once.
MOST_LABELS = 500


@router.get("/shelf")
def shelf(request: Request, desk: TheDesk) -> Response:
    """The lots, the first to expire on top, and what of them needs somebody."""
    return mended(request, "Shelf", lambda: _shelf(request, desk))


def _shelf(request: Request, desk: Desk) -> Response:
    given = {name: request.query_params.get(name, "").strip() for name in ("item", "state")}
    on, items = day_in(request, desk), desk.items()
    if given["state"] not in ("", BARRED, *STATES):
        raise BadInput("state", f"'{given['state']}' is no state of a lot", f"one of: {', '.join((BARRED, *STATES))}")
    least = desk.supplies().minimums
    found = flags(desk.ledger().shelf(on), items.facts, on, lead_days=desk.lead_days, minimums=least)
    lots = [one for one in found.lots if _is_asked_for(one, items.name(one.lot.item), **given)]
    lots.sort(key=lambda one: (last_moment(one.life.usable_until), one.lot.lot))
    begin = _begin(request, len(lots))
    return page(
        request,
        "shelf.html",
        title="Shelf",
        on=on,
        given=given,
        states={BARRED: "must not be used", **{state: value_words(state) for state in STATES}},
        filtered=any(given.values()) or begin > 0,
        names=sorted({items.name(one.lot.item) for one in found.lots}),
        name_of=items.name,
        address_of=lot_address,
        amount=text,
        lots=lots[begin : begin + MOST_ROWS],
        begin=begin,
        count=len(lots),
        turns=_turns(begin, len(lots), {**given, "on": on}),
        empty=sum(one.life.state == "empty" for one in found.lots),
        needs=flags_groups(found),
        most_lines=MOST_LINES,
        group_states=_GROUPS,
        picture=Markup(expiry_picture(lots[:MOST_DRAWN], on, items.name).svg) if lots else "",
    )


def _begin(request: Request, count: int) -> int:
    """Tell with which lot the page begins, counted from 0: the address says so, or the first."""
    begin = request.query_params.get("begin", "").strip() or "0"
    if not begin.isdecimal() or len(begin) > 9 or (int(begin) >= count and int(begin)):
        raise BadInput("begin", f"'{begin}' is no place in the list", f"a whole number below {count}")
    return int(begin)


def _turns(begin: int, count: int, given: dict[str, str]) -> list[tuple[str, str]]:
    """Give the way to the lots before and after those on the page."""
    to = {"The ones before": max(0, begin - MOST_ROWS), "The next ones": begin + MOST_ROWS}
    there = {words: place for words, place in to.items() if place != begin and place < count}
    return [(words, urlencode({**given, "begin": place})) for words, place in there.items()]


def _is_asked_for(one: Judged, name: str, item: str, state: str) -> bool:
    """Tell whether a lot passes the filter; an empty one only where empty ones are asked for."""
    wanted = item.casefold()
    there = any(wanted in told.casefold() for told in (name, one.lot.item, one.lot.lot, one.lot.location))
    if state == BARRED:
        return there and one.life.barred
    return there and (one.life.state == state if state else one.life.state != "empty")


# -- the scanner


@router.get("/shelf/scan")
def scan(request: Request, desk: TheDesk) -> Response:
    """Where a scanned or typed code leads: to the lot, or to the form that receives it."""
    words = request.query_params.get("code", "")
    ends = request.query_params.get("lot", "").strip() or None
    try:
        return RedirectResponse(_led_to(words, ends, desk), 303)
    except TackroomError as fault:
        return page(request, "shelf_scan.html", title="Scan", code=words, lot=ends or "", **refusal(fault))


def _led_to(words: str, ends: str | None, desk: Desk) -> str:
    today = desk.today.isoformat()
    if not words.strip():
        raise BadInput("scan", "nothing was scanned", "scan again, or type the lot")
    code = read(words, today, ends) if is_code(words.strip()) else Code(lot=words.strip())
    known = desk.ledger().shelf().lots.get(code.lot or "")
    if known is not None:
        _must_be_the_same(code, known.item, known.gtin, desk)
        return lot_address(known.lot)
    if code.gtin is not None:
        return f"/shelf/receive?{urlencode({'scan': words, 'scanned_lot': ends or ''})}"
    # The plain bars on a pack hold the product's number alone.
    pack, held = desk.products().by_gtin.get(padded(code.lot or "")), {}
    if pack is None:
        desk.ledger().lot(code.lot or "")  # says that there is none, and which is near
    else:
        held["item"] = desk.items().name(pack.item)
        if pack.quantity is not None:
            held |= {"quantity": text(pack.quantity), "unit": pack.unit}
    return f"/shelf/receive?{urlencode(held)}"


def _must_be_the_same(code: Code, item: str, gtin: str | None, desk: Desk) -> None:
    """Refuse a lot of another product than the one of its name on the shelf: makers may give theirs one name."""
    product = desk.products().by_gtin.get(code.gtin or "")
    if (product is not None and product.item != item) or (code.gtin and gtin and code.gtin != gtin):
        other = desk.items().name(product.item) if product else f"product {code.gtin}"
        said = f"the code is of {other}, and the lot of that name on the shelf is {desk.items().name(item)}"
        raise BadInput(code.lot or "", said, "receive the other one under another name")


# -- out of the house


@router.get("/shelf/export.csv")
def export(desk: TheDesk) -> Response:
    """The lots as they stand, as a list for a spreadsheet."""
    headers = {"Content-Disposition": 'attachment; filename="shelf.csv"'}
    return Response(
        shelf_csv(desk.ledger().shelf().lots.values()), headers=headers, media_type="text/csv; charset=utf-8"
    )


@router.get("/shelf/labels")
def labels(request: Request, desk: TheDesk) -> Response:
    """Labels to print: of the lots named in the address, or of all that aren't empty."""
    items = desk.items()
    shelf = desk.ledger().chosen(request.query_params.getlist("lot"))
    lots = judged(shelf, items.facts, day_in(request, desk))
    if len(lots) > MOST_LABELS:
        raise BadInput("labels", f"{len(lots)} are too many at once", "name the lots, or use `stock labels`")
    # No phone gets at an address of this machine alone.
    server = "" if is_loopback(request.url.hostname or "") else str(request.base_url)
    return printed(labels_html(lots, items.name, items.facts, server))
