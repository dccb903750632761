"""The shelf as it stands: lots, what needs somebody, a lot's history, the store's check, and what a code says."""

from __future__ import annotations

from dataclasses import asdict
from typing import Annotated

from fastapi import APIRouter, Body, Query
from pydantic import BaseModel, ConfigDict

from kb.stock.flags import flags as find_flags
from kb.stock.flags import judged
from kb.stock.products import Products
from kb.stock.scan import read
from kb.stock.shelf import lot_of, shelf_of
from kb.stock.view import flags_document, history_document, report_document, shelf_document
from kb.web.api import documents as d
from kb.web.api.bodies import Text
from kb.web.api.common import ALWAYS, WITH_BODY, Json, OnDay, named_in_path, problems
from kb.web.desk import TheDesk
from kb.work.installations import verify as verify_records

router = APIRouter(responses=ALWAYS, tags=["stock"])
NO_LOT = problems(s404="There is no such lot.")


@router.get("/lots", responses=d.answer(d.LOTS))
def lots(desk: TheDesk, on: OnDay = None) -> Json:
    """The lots, what is left of each and how long it may be used."""
    day = desk.moment(on, "on")
    return Json(shelf_document(judged(shelf_of(desk.store()), desk.items().facts, day), day))


@router.get("/flags", responses=d.answer(d.FLAGS))
def flags(
    desk: TheDesk,
    on: OnDay = None,
    within: Annotated[int | None, Query(ge=0, le=3650, description="Days that count as soon (30).")] = None,
) -> Json:
    """What must not be used, what expires soon or unused, and what to order."""
    leads = Products.load(desk.settings.workspace).lead_days
    day = desk.moment(on, "on")
    return Json(flags_document(find_flags(shelf_of(desk.store()), desk.items().facts, day, within, leads)))


@router.get("/lots/{lot:path}/history", responses=d.answer(d.HISTORY) | NO_LOT)
def history(lot: str, desk: TheDesk) -> Json:
    """What happened to a lot, in order."""
    with named_in_path():
        _, events = lot_of(desk.store(), lot)
    return Json(history_document(events, lot))


@router.get("/stock/verify", responses=d.answer(d.REPORT))
def verify(desk: TheDesk) -> Json:
    """Whether every byte, event and sum of what is stored, and the records, add up."""
    store = desk.store()
    report = store.verify()
    if not report.problems:
        report += verify_records(desk.settings.workspace, store)
    return Json(report_document(report))


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
    product = Products.load(desk.settings.workspace).by_gtin.get(found["gtin"] or "")
    return Json({"schema": "tackroom.stock-scan/1", **found, "item": product.item if product else None})
