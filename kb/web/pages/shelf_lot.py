"""A lot: what is known of it, how long it may be used, what happened to it, and a form for each thing that may."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from kb.base.errors import BadInput, StoreError, TackroomError
from kb.base.units import degrees
from kb.stock.amounts import text
from kb.stock.lots import Event, Lot
from kb.stock.receiving import changes, in_its_unit, may_use
from kb.stock.shelf_life import life, limits
from kb.stock.stores import Document
from kb.stock.view import event_text
from kb.web.desk import Desk, TheDesk
from kb.web.once import Seal
from kb.web.pages.common import Written
from kb.web.pages.shelf_forms import ahead_in, day_in, event, lot_address, once, refusal, said
from kb.web.problems import Problem
from kb.web.render import page

router = APIRouter()


@dataclass(frozen=True, slots=True)
class Field:
    """One field of an event's form. `kind`: text, number, date, lines, tick or void (yes or no)."""

    name: str
    label: str
    kind: str = "text"
    required: bool = False
    hint: str = ""


@dataclass(frozen=True, slots=True)
class Form:
    """The form of one type of event. Those that need the time of day say so."""

    type: str
    verb: str
    fields: tuple[Field, ...] = ()
    hint: str = ""
    reason: bool = False
    timed: bool = False


_AMOUNT = (Field("quantity", "Amount", "number", True), Field("unit", "Unit", required=True))
FORMS = (
    Form("used", "Use", (
        *_AMOUNT,
        Field("job", "For the job"),
        Field("part", "On the part"),
        Field("installation", "Installation"),
        Field("anyway", "Anyway: although it must not be used, for the reason below", "tick"),
    )),
    Form("opened", "Open", hint="Its opened life begins."),
    Form("counted", "Count or weigh", _AMOUNT, "It replaces what the book says."),
    Form("disposed", "Dispose of it", hint="What was left was thrown away."),
    Form("moved", "Move", (
        Field("location", "Where it stands now", required=True),
        Field("storage_c", "Temperature there, degC", "number", hint="Left out: not known."),
    )),
    Form("thawed", "Thaw", hint="Its thawed life begins. Without a time the day counts from its start.", timed=True),
    Form("mixed", "Mix all of it", timed=True,
         hint="A mix of part of it is a use. Without a time the day counts from its start."),
    Form("requalified", "Requalify", (
        Field("until", "New last day", "date", True),
        Field("test", "The recorded test", required=True),
    ), "A test gives the lot, as it stands, a new last day.", reason=True),
    Form("released", "Release", hint="It may be used although it left its storage limits.", reason=True),
    Form("held", "Put on hold", hint="It is suspected: it must not be used until it is freed.", reason=True),
    Form("freed", "Free from hold", reason=True),
    Form("renamed", "Rename", (Field("to", "Its right name", required=True),),
         "It was recorded under a wrong name."),
    Form("condemned", "Condemn", (
        Field("sure", "Yes, it must never be used again; this can't be undone", "tick", True),
    ), reason=True),
    Form("corrected", "Correct an event", (
        Field("corrects", "Number of the event that was recorded wrongly", "number", True),
        Field("change", "What is right", "lines",
              hint="FIELD=VALUE, each on a line, such as expires=2027-12-31. Nothing behind the sign: not known."),
        Field("void", "Did it happen?", "void"),
    ), "The wrong event stays in the history.", reason=True),
)  # fmt: skip
_BY_TYPE = {form.type: form for form in FORMS}
#: Fields that steer the recording and are no part of the event.
_STEERING = ("anyway", "sure")


@router.get("/shelf/lots/{lot:path}")
def lot_page(lot: str, request: Request, desk: TheDesk) -> Response:
    """The lot as it stands, as of today or of the day asked about."""
    return _page(request, desk, lot)


@router.post("/shelf/lots/{lot:path}")
def happened(lot: str, request: Request, desk: TheDesk, form: Written) -> Response:
    """Record what happened to the lot. What is refused is said above the form, which keeps what was typed."""
    try:
        return once(request, form, desk, lambda seal: _recorded(lot, form, desk, seal))
    except TackroomError as fault:
        return _page(request, desk, lot, form, **refusal(fault))


def _recorded(lot: str, form: Mapping[str, Any], desk: Desk, seal: Seal) -> str:
    """Record the event, and say where it can be seen."""
    kind = said(form, "event")
    if kind not in _BY_TYPE:
        raise BadInput("event", f"'{kind}' is nothing that is recorded here", "use the page's own forms")
    if kind == "condemned" and not said(form, "sure"):
        raise BadInput("sure", "is not ticked", f"tick it to condemn {lot}")
    own = {f.name: said(form, f.name) or None for f in _BY_TYPE[kind].fields if f.name not in _STEERING}
    if kind == "corrected":
        own["change"] = changes(line for line in (own["change"] or "").splitlines() if line.strip())  # type: ignore[assignment]
    draft = event(kind, lot, form, desk, **{name: value for name, value in own.items() if value is not None})
    ledger, items = desk.ledger(), desk.items()
    if "quantity" in draft and "unit" in draft:
        draft = in_its_unit(ledger.lot(lot), draft, items)
    if kind == "used":
        may_use(ledger, draft, items.facts, bool(said(form, "anyway")), desk.day, ahead_in(form))
    return _led_to(ledger.record([draft], desk.day, ahead_in(form), seal.once(_led_to)))


def _led_to(recorded: Sequence[Document]) -> str:
    """Tell where what was recorded can be seen: at the lot, which may have got another name by it."""
    [kept] = recorded
    return f"{lot_address(str(kept.get('to') or kept['lot']))}?done={kept['id']}"


def _page(
    request: Request, desk: Desk, mark: str, typed: Mapping[str, Any] | None = None, status: int = 200, **more: Any
) -> Response:
    on, items = day_in(request, desk), desk.items()
    try:
        lot, history = desk.ledger().lot(mark), desk.ledger().history(mark)
    except StoreError:
        raise
    except BadInput as fault:
        raise Problem(404, "not-found", fault.where, fault.what, fault.mend) from None
    facts = items.facts(lot.item)
    done = next((e for e in history if str(e["id"]) == request.query_params.get("done")), None)
    values: dict[str, Any] = {
        "lot": lot,
        "name": items.name(lot.item),
        "left": f"{text(lot.quantity)} {lot.unit}",
        "life": life(lot, facts, on),
        "limits": sorted(limits(lot, facts)),
        "facts": _facts(lot),
        "history": [_row(e, items.name) for e in history],
        "done": event_text(done) if done else "",
        "forms": FORMS,
        "typed": {name: said(typed, name) for name in typed} if typed else {},
        "usual": {"unit": lot.unit},
        "address": lot_address(mark),
    }
    return page(request, "shelf_lot.html", status=status, title=f"Lot {mark}", on=on, **{"fault": []} | values | more)


def _facts(lot: Lot) -> list[tuple[str, str]]:
    """Tell what is recorded of a lot, in words; what isn't known is said to be so where it matters."""
    told = [
        ("Received", lot.received or "not known"),
        ("Made", lot.made or "not known"),
        ("Date on the container", lot.expires or "not known"),
        ("Opened", lot.opened or ""),
        ("Thawed", lot.thawed or ""),
        ("Mixed", lot.mixed or ""),
        ("Requalified", f"{lot.requalified}, until {lot.requalified_until}" if lot.requalified else ""),
        ("Condemned", lot.condemned),
        ("On hold", lot.held),
        ("Disposed of", lot.disposed or ""),
        ("Maker's lot", lot.batch),
        ("Called before", ", ".join(name for name, _ in lot.names)),
        ("Where it stands", lot.location or "not said"),
        ("Kept at", "not known" if lot.storage_c is None else f"{degrees(lot.storage_c)} degC"),
        ("Product number", lot.gtin or ""),
    ]
    return [(name, value) for name, value in told if value]


def _row(one: Event, name_of: Callable[[str], str]) -> dict[str, Any]:
    """Give an event as a row of the history."""
    known = ("id", "type", "at", "who", "lot", "quantity", "unit", "recorded")
    amount = f"{one['quantity']} {one['unit']}" if "quantity" in one else ""
    told = {name: name_of(value) if name == "item" else value for name, value in one.items() if name not in known}
    rest = "; ".join(f"{name.replace('_', ' ')}: {value}" for name, value in told.items())
    return {"id": one["id"], "at": one["at"], "type": one["type"], "amount": amount, "who": one["who"], "rest": rest}
