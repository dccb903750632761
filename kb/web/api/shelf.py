"""The shelf as it stands: lots, what needs somebody, a lot's history, the store's check, and what a code says."""

from __future__ import annotations

from dataclasses import asdict
from typing import Annotated

from fastapi import APIRouter, Body, Query
from pydantic import BaseModel, ConfigDict

from kb.stock.flags import flags as find_flags
from kb.stock.flags import judged
from kb.stock.scan import read
from kb.stock.view import flags_document, history_document, report_document, shelf_document
from kb.web.api import documents as d
from kb.web.api.bodies import Text
from kb.web.api.common import ALWAYS, WITH_BODY, Json, OnDay, named_in_path, problems
from kb.web.desk import Desk, TheDesk
from kb.work.checking import verify as check
from kb.work.reserving import reserved_in

router = APIRouter(responses=ALWAYS, tags=["stock"])
NO_LOT = problems(s404="There is no such lot.")


Known = Annotated[str | None, Query(max_length=40, description="By what was recorded up to this day, ISO (today).")]


def _days(desk: Desk, on: str | None, known: str | None) -> tuple[str, str]:
    """Tell the day asked about and the day of knowledge ("": all that is known).

    With `known` alone both are that day.
    """
    by = desk.moment(known, "known")[:10] if known else ""
    return (desk.moment(on, "on") if on or not by else by), by


@router.get("/lots", responses=d.answer(d.LOTS))
def lots(desk: TheDesk, on: OnDay = None, known: Known = None) -> Json:
    """The lots of a day, what is left of each and how long it may be used."""
    day, by = _days(desk, on, known)
    kept = {} if by else reserved_in(desk.ledger())
    return Json(shelf_document(judged(desk.ledger().shelf(day, by), desk.items().facts, day), day, by, kept))


@router.get("/flags", responses=d.answer(d.FLAGS))
def flags(
    desk: TheDesk,
    on: OnDay = None,
    known: Known = None,
    within: Annotated[int | None, Query(ge=0, le=3650, description="Days that count as soon (30).")] = None,
) -> Json:
    """What must not be used, what expires soon or unused, and what to order."""
    day, by = _days(desk, on, known)
    shelf, least = desk.ledger().shelf(day, by), desk.supplies().minimums
    found = find_flags(shelf, desk.items().facts, day, within, desk.lead_days, minimums=least)
    return Json(flags_document(found, by))


@router.get("/lots/{lot:path}/history", responses=d.answer(d.HISTORY) | NO_LOT)
def history(lot: str, desk: TheDesk) -> Json:
    """What happened to a lot, in order."""
    with named_in_path():
        return Json(history_document(desk.ledger().history(lot), lot))


@router.get("/stock/verify", responses=d.answer(d.REPORT))
def verify(desk: TheDesk) -> Json:
    """Whether every byte, link, event and sum of the ledger, and the records, add up."""
    return Json(report_document(check(desk.ledger())))


class Scanned(BaseModel):
    """What a scanner sent."""

    model_config = ConfigDict(extra="forbid")

    code: Text
    lot: Text | None = None
    on: Text | None = None


@router.post("/scan", responses=WITH_BODY | d.answer(d.SCAN))
def scan(
    body: Annotated[Scanned, Body(examples=[{"code": "]C101040123456789011728123110ABC123"}])], desk: TheDesk
) -> Json:
    """What a scanned code says, and the item that its product number is linked with. `lot`: where the lot ends."""
    found = asdict(read(body.code, desk.moment(body.on, "on")[:10], body.lot))
    product = desk.products().by_gtin.get(found["gtin"] or "")
    return Json({"schema": "tackroom.stock-scan/1", **found, "item": product.item if product else None})
