"""What happens to a lot: one event each, recorded once. The body says all that is to be recorded."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any

from fastapi import APIRouter, Body
from pydantic import BaseModel, ConfigDict, Field

from kb.stock.receiving import in_its_unit, may_use, receipt
from kb.stock.scan import lot_named, read
from kb.stock.view import events_document
from kb.web.api import documents as d
from kb.web.api.bodies import Table, Text
from kb.web.api.common import WITH_BODY, Json, named_in_path, problems
from kb.web.api.once import TheWrite, Write
from kb.web.desk import Desk

router = APIRouter(
    responses=WITH_BODY | problems(s409="It would break a rule of the shelf; nothing was recorded."), tags=["stock"]
)
RECORDED = d.answer(d.EVENTS)
ON_LOT = RECORDED | problems(s404="There is no such lot.")

#: Exact decimals are text; a JSON number is taken as its shortest text.
Quantity = Annotated[int | float | Text, Field(description="A decimal number, as text or a number.", examples=["2.5"])]
Degrees = Annotated[float, Field(ge=-273.15, le=3000, allow_inf_nan=False)]


class Head(BaseModel):
    """When, by whom and why. Left out: today, and who the server was started for. `ahead`: a later day is meant."""

    model_config = ConfigDict(extra="forbid")

    at: Text | None = None
    who: Annotated[str, Field(min_length=1, max_length=100)] | None = None
    reason: Text = ""
    ahead: bool = False


class Receipt(Head):
    """A container that came in: item, lot, quantity and unit; or `scan`, and what the code doesn't hold."""

    item: Text | None = None
    lot: Text | None = None
    quantity: Quantity | None = None
    unit: Text | None = None
    scan: Annotated[Text | None, Field(description="The pack's GS1 code; `lot` then says where the lot ends.")] = None
    received: Text | None = None
    made: Text | None = None
    expires: Text | None = None
    storage_c: Degrees | None = None
    location: Text = ""
    batch: Annotated[Text, Field(description="The maker's lot, where this is one container of it.")] = ""


class Use(Head):
    """So much was taken. `anyway`: although it must not be used; then a reason must be given."""

    quantity: Quantity
    unit: Text
    job: Text = ""
    part: Text = ""
    installation: Text = ""
    anyway: bool = False


class Move(Head):
    location: Text
    storage_c: Degrees | None = None


class Count(Head):
    quantity: Quantity
    unit: Text


class Requalification(Head):
    until: Text
    test: Text
    reason: Text


class Decision(Head):
    reason: Text


class Name(Head):
    to: Text


class Correction(Head):
    """What of an event was recorded wrongly; null: unknown. `void`: it never happened, or (false) it did."""

    corrects: Annotated[int, Field(ge=1, description="The event's number.")]
    change: Table = Field(default_factory=dict)
    void: bool | None = None
    reason: Text


Happened = Annotated[Head, Body(default_factory=Head)]


def head_of(said: Head, desk: Desk) -> dict[str, Any]:
    """Tell when, by whom and why, as the ledger has them."""
    who = said.who or desk.who
    return {"at": desk.moment(said.at, "at"), "who": who, "reason": said.reason}


@router.post("/lots", responses=RECORDED)
def receive(body: Receipt, write: TheWrite) -> Json:
    """Record a container that came in."""
    desk = write.desk
    head = head_of(body, desk)
    day = head["at"][:10]
    given = {"type": "received", **head, "item": body.item, "quantity": body.quantity, "unit": body.unit}
    code = read(body.scan, day, body.lot or None) if body.scan is not None else None
    # With a code, `lot` tells where the code's lot ends, and is that lot.
    given |= {"lot": lot_named(body.lot, day) if body.lot and code is None else body.lot, "made": body.made}
    given |= {"received": body.received or day, "expires": body.expires}
    given |= {"storage_c": body.storage_c, "location": body.location, "batch": body.batch}

    def done() -> Any:
        return _recorded(write, receipt(given, code, desk.products(), desk.items()), body.ahead)

    return write.once(done)


@router.post("/lots/{lot:path}/open", responses=ON_LOT)
def open_lot(lot: str, body: Happened, write: TheWrite) -> Json:
    """Record that a container was opened: its opened life begins."""
    return _on_lot(write, "opened", lot, body)


@router.post("/lots/{lot:path}/thaw", responses=ON_LOT)
def thaw(lot: str, body: Happened, write: TheWrite) -> Json:
    """Record that a frozen lot was thawed."""
    return _on_lot(write, "thawed", lot, body)


@router.post("/lots/{lot:path}/mix", responses=ON_LOT)
def mix(lot: str, body: Happened, write: TheWrite) -> Json:
    """Record that all that is left of a lot was mixed (a mix of part of it is a use)."""
    return _on_lot(write, "mixed", lot, body)


@router.post("/lots/{lot:path}/use", responses=ON_LOT)
def use(lot: str, body: Use, write: TheWrite) -> Json:
    """Record a use. Refused, and nothing recorded, where the lot must not be used."""
    desk = write.desk

    def allowed(draft: dict[str, Any]) -> None:
        may_use(desk.ledger(), draft, desk.items().facts, body.anyway, desk.day, body.ahead)

    return _on_lot(write, "used", lot, body, allowed)


@router.post("/lots/{lot:path}/move", responses=ON_LOT)
def move(lot: str, body: Move, write: TheWrite) -> Json:
    """Record that a lot stands somewhere else now."""
    return _on_lot(write, "moved", lot, body)


@router.post("/lots/{lot:path}/count", responses=ON_LOT)
def count(lot: str, body: Count, write: TheWrite) -> Json:
    """Record what was found by counting or weighing: it replaces what the book says."""
    return _on_lot(write, "counted", lot, body)


@router.post("/lots/{lot:path}/requalify", responses=ON_LOT)
def requalify(lot: str, body: Requalification, write: TheWrite) -> Json:
    """Record a test that gives a lot, as it stands, a new last day."""
    return _on_lot(write, "requalified", lot, body)


@router.post("/lots/{lot:path}/release", responses=ON_LOT)
def release(lot: str, body: Decision, write: TheWrite) -> Json:
    """Decide that a lot may be used although it left its storage limits."""
    return _on_lot(write, "released", lot, body)


@router.post("/lots/{lot:path}/hold", responses=ON_LOT)
def hold(lot: str, body: Decision, write: TheWrite) -> Json:
    """Put a lot that is suspected on hold: it must not be used until it is freed."""
    return _on_lot(write, "held", lot, body)


@router.post("/lots/{lot:path}/free", responses=ON_LOT)
def free(lot: str, body: Decision, write: TheWrite) -> Json:
    """Free a lot that was on hold."""
    return _on_lot(write, "freed", lot, body)


@router.post("/lots/{lot:path}/dispose", responses=ON_LOT)
def dispose(lot: str, body: Happened, write: TheWrite) -> Json:
    """Record that what was left of a lot was thrown away."""
    return _on_lot(write, "disposed", lot, body)


@router.post("/lots/{lot:path}/rename", responses=ON_LOT)
def rename(lot: str, body: Name, write: TheWrite) -> Json:
    """Give a lot its right name, where it was recorded under a wrong one."""
    return _on_lot(write, "renamed", lot, body)


@router.post("/lots/{lot:path}/condemn", responses=ON_LOT)
def condemn(lot: str, body: Decision, write: TheWrite) -> Json:
    """Decide that a lot must never be used again."""
    return _on_lot(write, "condemned", lot, body)


@router.post("/lots/{lot:path}/correct", responses=ON_LOT)
def correct(lot: str, body: Correction, write: TheWrite) -> Json:
    """Correct an event by a new one that refers to it; the wrong one stays in the history."""
    return _on_lot(write, "corrected", lot, body)


def _on_lot(
    write: Write, kind: str, lot: str, said: Head, allowed: Callable[[dict[str, Any]], None] = lambda _: None
) -> Json:
    """Record one event of a lot, which may be typed or scanned, once."""
    desk = write.desk
    head = head_of(said, desk)
    own = said.model_dump(exclude={*Head.model_fields, "anyway"}, exclude_unset=True)

    def done() -> Any:
        with named_in_path():
            mark = lot_named(lot, head["at"][:10])
            known = desk.ledger().lot(mark)
        draft = {"type": kind, **head, "lot": mark, **own}
        if "quantity" in draft:
            draft = in_its_unit(known, draft, desk.items())
        allowed(draft)
        return _recorded(write, draft, said.ahead)

    return write.once(done)


def _recorded(write: Write, draft: dict[str, Any], ahead: bool) -> Any:
    ledger, day = write.desk.ledger(), write.desk.day
    if write.dry_run:
        return events_document(ledger.rehearse([draft], day, ahead), True)
    once = write.kept(lambda bodies: events_document(bodies, False))
    return events_document(ledger.record([draft], day, ahead, once), False)
