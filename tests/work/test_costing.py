"""What a job costs: exact sums of what has a price, and never nothing for what has none."""

from __future__ import annotations

import csv
import io
import random
from decimal import Decimal

import pytest

from kb.engine.plan import Engine
from kb.quantities.cautions import PACK_NOT_KNOWN
from kb.quantities.estimate import Estimate, estimate
from kb.report.costs import costs_json, costs_text, estimate_table
from kb.report.order import order_json, order_text
from kb.stock.amounts import unit_named
from kb.stock.fold import Shelf
from kb.stock.products import Product
from kb.stock.supplies import Supply
from kb.work.costing import costs_of, in_own_packs
from kb.work.ordering import order_for
from tests.quantities.jobs import BOARD, job_with, planned

MONDAY = "2027-03-01"


@pytest.fixture(scope="module")
def work(engine: Engine) -> Estimate:
    return estimate(*planned(job_with(BOARD, job={"planned_on": MONDAY}), engine))


def some_supplies(work: Estimate, seed: int) -> dict[str, Supply]:
    """Packs and prices of some lines, packs alone of others, and nothing of the rest."""
    draw, found = random.Random(seed), {}
    for line in work.lines:
        pack = Decimal(str(round(draw.uniform(0.2, 3) * line.bring, 3))) or Decimal(1)
        price = Decimal(draw.randint(1, 99999)) / 100 if draw.random() < 0.6 else None
        if draw.random() < 0.8:
            found[line.entry.id] = Supply(line.entry.id, pack, unit_named(line.unit), price, draw.choice([None, 3]))
    return found


@pytest.mark.parametrize("seed", range(20))
def test_sums_are_exact_and_what_has_no_price_stands_in_none(work: Estimate, seed: int) -> None:
    supplies = some_supplies(work, seed)
    packed = in_own_packs(work, supplies)
    found = costs_of(packed, supplies, "EUR")
    used, bought = Decimal(0), Decimal(0)
    for line, cost in zip(packed.lines, found.lines, strict=True):
        supply = supplies.get(line.entry.id)
        if supply is None or supply.pack is None or supply.price is None:
            assert (cost.price, cost.used, cost.bought) == (None, None, None)
            assert line in found.unknown
            continue
        packs = next(n for n in range(1000) if n * supply.pack >= Decimal(str(line.bring)))
        assert (line.packs, line.pack_size) == (packs, float(supply.pack))
        used += Decimal(str(line.gross)) / supply.pack * supply.price
        bought += packs * supply.price
    assert (found.used, found.bought) == (used, bought)
    assert found.per_gauge * found.good == pytest.approx(used)
    assert found.used <= found.bought
    document = costs_json(found)
    assert document["complete"] is (not found.unknown)
    assert document["price_not_known"] == [line.entry.id for line in found.unknown]
    assert len(document["lines"]) == len(work.lines)


def test_without_a_price_nothing_is_said_to_cost_nothing(work: Estimate) -> None:
    found = costs_of(work, {}, "")
    document = costs_json(found)
    assert [document[name] for name in ("currency", "used", "per_gauge", "packs")] == [None] * 4
    assert "no price is known" in costs_text(found)
    assert "0.00" not in costs_text(found)
    rows = list(csv.DictReader(io.StringIO(estimate_table(work, found))))
    assert {row["cost_used"] for row in rows} == {row["price"] for row in rows} == {""}
    assert [row["item"] for row in rows] == [line.entry.id for line in work.lines]


def test_a_sum_that_lacks_some_says_at_least_and_names_them(work: Estimate) -> None:
    line, other = work.lines[0], work.lines[1]
    supplies = {line.entry.id: Supply(line.entry.id, Decimal(str(line.gross)), unit_named(line.unit), Decimal("7.5"))}
    said = " ".join(costs_text(costs_of(in_own_packs(work, supplies), supplies, "EUR")).split())
    assert said.startswith("COST at least 7.50 EUR for the materials used")
    assert other.entry.name in said
    all_known = {
        one.entry.id: Supply(one.entry.id, Decimal(1), unit_named(one.unit), Decimal("0.01")) for one in work.lines
    }
    assert "at least" not in costs_text(costs_of(work, all_known, "EUR"))


def test_a_pack_of_the_lab_s_own_is_no_longer_unknown(work: Estimate) -> None:
    unknown = [line.entry.id for line in work.lines if line.pack_size is None]
    assert unknown
    assert PACK_NOT_KNOWN in {remark.rule for remark in work.remarks}
    packed = in_own_packs(work, {one: Supply(one, Decimal(10), "pcs") for one in unknown})
    assert PACK_NOT_KNOWN not in {remark.rule for remark in packed.remarks}
    assert all(line.packs for line in packed.lines if line.entry.id in unknown)


def test_an_order_takes_the_pack_price_and_delivery_that_the_lab_said(work: Estimate) -> None:
    line = next(one for one in work.lines if one.unit == "mL" and one.bring < 1000)
    product = Product("04012345678901", line.entry.id, Decimal(str(line.bring)), "mL", 30)
    own = {line.entry.id: Supply(line.entry.id, Decimal("0.04"), "L", Decimal("3.1"), 2)}
    found = order_for(work, Shelf({}), lambda _: {}, MONDAY, {}, [product], own, "EUR")
    row = next(one for one in found.rows if one.line is line)
    assert (row.pack_size, row.price) == (Decimal(40), Decimal("3.1"))
    assert (row.lead_days, row.gtin) == (2, "")
    assert row.packs is not None
    assert row.packs * 40 >= row.needed > (row.packs - 1) * 40
    assert row.cost == row.packs * Decimal("3.1")
    assert {one.price for one in found.rows if one.line is not line} == {None}
    told = next(one for one in order_json(found, "x")["lines"] if one["item"] == line.entry.id)
    assert (told["cost"], told["currency"]) == (float(row.cost), "EUR")
    assert f"Together at least {row.cost:.2f} EUR" in order_text(found, MONDAY)
