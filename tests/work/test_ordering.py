"""What to buy: no less than what may be needed, no more than a pack beyond it, nothing that the shelf has in date."""

from __future__ import annotations

import csv
import io
import random
from decimal import Decimal
from typing import Any

import pytest

from kb.engine.plan import Engine
from kb.quantities.estimate import Estimate, estimate
from kb.report.order import order_json, order_table, order_text
from kb.stock.amounts import unit_named
from kb.stock.fold import Shelf
from kb.stock.lots import Lot
from kb.stock.products import Product
from kb.work.ordering import Ordered, order_for
from tests.quantities.jobs import BOARD, job_with, planned

MONDAY = "2027-03-01"


@pytest.fixture(scope="module")
def work(engine: Engine) -> Estimate:
    return estimate(*planned(job_with(BOARD, job={"planned_on": MONDAY}), engine))


def ordered(work: Estimate, lots: dict[str, Lot], *products: Product, reserved: Any = None) -> Ordered:
    return order_for(work, Shelf(lots), lambda _: {}, MONDAY, reserved or {}, products)


def lot(name: str, item: str, amount: float, unit: str, expires: str = "2028-01-01") -> Lot:
    return Lot(name, item, Decimal(str(amount)), unit_named(unit), "2027-01-10", expires=expires)


@pytest.mark.parametrize("seed", range(20))
def test_shelf_and_packs_together_cover_what_is_to_be_brought_and_not_a_pack_more(work: Estimate, seed: int) -> None:
    draw = random.Random(seed)
    lots = {
        (name := f"{line.entry.id}-{n}"): lot(
            name, line.entry.id, round(line.bring * draw.uniform(0.1, 0.9), 3), line.unit,
            draw.choice(["2027-02-20", "2027-03-02", "2028-01-01"]),
        )
        for line in work.lines for n in range(draw.randint(0, 2))
    }  # fmt: skip
    found = ordered(work, lots)
    for line, row in zip(work.lines, found.rows, strict=True):
        assert (row.needed, row.shelf + row.lacking) == (Decimal(str(line.bring)), row.needed)
        assert line.range[0] <= line.range[1] <= line.bring
        alive = sum(one.quantity for one in lots.values() if one.item == line.entry.id and str(one.expires) >= MONDAY)
        assert row.shelf <= alive
        if row.packs is not None and row.pack_size is not None:
            assert row.packs * row.pack_size >= row.lacking > (row.packs - 1) * row.pack_size or not row.lacking
        assert row.order_by < row.first_used


def test_nothing_is_bought_that_is_there_and_all_of_it_where_others_keep_it(work: Estimate) -> None:
    lots = {one.entry.id: lot(one.entry.id, one.entry.id, one.bring, one.unit) for one in work.lines}
    assert ordered(work, lots).to_buy == []
    assert order_text(ordered(work, lots), MONDAY).startswith("Nothing is to be bought")
    kept = {name: (one.quantity, one.unit) for name, one in lots.items()}
    assert len(ordered(work, lots, reserved=kept).to_buy) == len(work.lines)
    dead = {name: lot(name, one.item, float(one.quantity), one.unit, "2027-02-28") for name, one in lots.items()}
    assert len(ordered(work, dead).to_buy) == len(work.lines)


def test_the_lab_s_own_packs_and_deliveries_count(work: Estimate) -> None:
    line = next(one for one in work.lines if one.unit == "mL" and one.bring < 1000)
    big = Product("04012345678901", line.entry.id, Decimal(5), "L", 3)
    small = Product("04012345678918", line.entry.id, Decimal(str(line.bring)), "mL", 30)
    other = Product("04012345678925", line.entry.id, Decimal(7), "g", 1)
    row = next(r for r in ordered(work, {}, big, small, other).rows if r.line is line)
    assert (row.gtin, row.packs, row.lead_days) == (small.gtin, 1, 30)
    assert row.order_by < MONDAY
    told = order_text(ordered(work, {}, big, small, other), MONDAY)
    assert f"by {row.order_by}  LATE" in told


def test_the_table_to_send_holds_what_is_to_be_bought(work: Estimate) -> None:
    found = ordered(work, {})
    rows = list(csv.DictReader(io.StringIO(order_table(found))))
    assert [row["item"] for row in rows] == [row.line.entry.id for row in found.to_buy]
    document = order_json(found, "boards")
    assert [str(line["packs"] or "") for line in document["lines"]] == [row["packs"] for row in rows]
    assert document["schema"] == "tackroom.order/1"
