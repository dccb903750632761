"""How items are bought: what was said stays until something else is, tables come back, and slips are refused."""

from __future__ import annotations

import json
from decimal import Decimal
from pathlib import Path

import pytest

from kb.base.errors import BadInput
from kb.knowledge import load
from kb.stock.flags import flags
from kb.stock.fold import Shelf
from kb.stock.items import Items
from kb.stock.lots import Lot
from kb.stock.supplies import Supplies, Supply, currency_named, supplies_in, supply_of
from kb.stock.tables import Faults

ITEMS = Items(load())
ACETONE = Supply("acetone", Decimal(500), "mL", Decimal("12.50"), 5, Decimal(1000))
NOTHING: dict[str, str | None] = dict.fromkeys(("pack", "unit", "price", "lead_days", "minimum"))


def said(given: dict[str, str], before: Supply = Supply("acetone")) -> Supply:
    return supply_of({**NOTHING, **given}, before, ITEMS.amount)


def test_what_is_kept_comes_back_exactly_and_money_is_no_float(tmp_path: Path) -> None:
    lab = Supplies.load(tmp_path)
    assert lab.set_currency("eur") == "EUR"
    lab.put([ACETONE, Supply("isopropyl-alcohol", minimum=Decimal("0.1"), unit="L")])
    again = Supplies.load(tmp_path)
    assert again.by_item["acetone"] == ACETONE
    assert again.currency == "EUR"
    assert again.lead_days == {"acetone": 5}
    assert again.minimums == {"acetone": (Decimal(1000), "mL"), "isopropyl-alcohol": (Decimal("0.1"), "L")}
    assert again.forget("acetone")
    assert not again.forget("acetone")
    assert "acetone" not in Supplies.load(tmp_path).by_item


def test_what_is_not_said_stays() -> None:
    assert said({"price": "13"}, ACETONE) == Supply("acetone", Decimal(500), "mL", Decimal(13), 5, Decimal(1000))
    assert said({"lead_days": "0"}, ACETONE).lead_days == 0
    assert said({"pack": "1", "unit": "gal"}) == Supply("acetone", Decimal("3785.411784"), "mL")
    assert said({"minimum": "2", "unit": "L"}) == Supply("acetone", None, "L", None, None, Decimal(2))


@pytest.mark.parametrize(
    ("given", "where"),
    [
        ({"price": "12"}, "--price"),
        ({"pack": "500"}, "--pack"),
        ({"minimum": "500"}, "--minimum"),
        ({"unit": "mL"}, "--unit"),
        ({"pack": "0", "unit": "mL"}, "--pack"),
        ({"pack": "-5", "unit": "mL"}, "--pack"),
        ({"minimum": "-5", "unit": "mL"}, "--minimum"),
        ({"pack": "5", "unit": "sheet"}, "unit"),
        ({"pack": "much", "unit": "mL"}, "quantity"),
        ({"pack": "5", "unit": "mL", "price": "-1"}, "--price"),
        ({"pack": "5", "unit": "mL", "price": "12,50"}, "--price"),
    ],
)
def test_a_slip_is_refused(given: dict[str, str], where: str) -> None:
    with pytest.raises(BadInput) as fault:
        said(given)
    assert fault.value.where == where


@pytest.mark.parametrize("words", ["", "12", "EUR1", "=EUR", "a b", "x" * 13, "\x1b"])
def test_a_currency_is_a_word_or_a_sign(words: str) -> None:
    with pytest.raises(BadInput, match="currency"):
        currency_named(words)


def test_a_table_goes_out_and_comes_back_and_all_its_faults_are_told(tmp_path: Path) -> None:
    Supplies.load(tmp_path).put([ACETONE])
    lab = Supplies.load(tmp_path)
    assert supplies_in(lab.table().encode(), "s.csv", ITEMS.resolve, ITEMS.amount, True) == [ACETONE]
    bad = b"item;pack;unit;price;lead_days;minimum\nacetone;500;mL;12,50;1,5;\nnobody;1;mL;;;\nacetone;1;sheet;;;\n"
    with pytest.raises(Faults) as faults:
        supplies_in(bad, "s.csv", ITEMS.resolve, ITEMS.amount, True)
    assert [fault.where for fault in faults.value.each] == [
        "s.csv: row 2, column lead_days",
        "s.csv: row 3, column item",
        "s.csv: row 4, column unit",
    ]
    with pytest.raises(Faults, match="currency is not known"):
        supplies_in(lab.table().encode(), "s.csv", ITEMS.resolve, ITEMS.amount, False)


def test_a_document_that_was_edited_amiss_is_named(tmp_path: Path) -> None:
    (tmp_path / "documents.json").write_text(json.dumps({"prices": {"1": {"item": "acetone", "price": "cheap"}}}))
    with pytest.raises(BadInput, match="price of acetone"):
        Supplies.load(tmp_path)


def test_what_is_below_its_minimum_is_flagged_and_what_there_is_none_of_too() -> None:
    here = {
        "A": Lot("A", "acetone", Decimal("0.6"), "L", "2027-01-01", expires="2028-01-01"),
        "B": Lot("B", "acetone", Decimal(300), "mL", "2027-01-01", expires="2028-01-01"),
        "dead": Lot("dead", "acetone", Decimal(900), "mL", "2027-01-01", expires="2027-02-01"),
    }
    least = {"acetone": (Decimal(1000), "mL"), "ethanol": (Decimal(1), "L")}
    found = flags(Shelf(here), lambda _: {}, "2027-03-01", lead_days={"acetone": 5}, minimums=least).low
    assert [(one.item, one.usable, one.minimum, one.lead_days) for one in found] == [
        ("acetone", Decimal(900), Decimal(1000), 5),
        ("ethanol", Decimal(0), Decimal(1), 14),
    ]
    enough = {"acetone": (Decimal(900), "mL")}
    assert flags(Shelf(here), lambda _: {}, "2027-03-01", minimums=enough).low == []
