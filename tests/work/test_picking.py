"""Picking: first expired first out, reservations, what is short; outcomes and learning. One lab, invented."""

from __future__ import annotations

import random
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from kb.base.errors import BadInput
from kb.stock.flags import judged
from kb.stock.fold import Shelf
from kb.stock.lots import Lot
from kb.stock.shelf_life import life
from kb.work.drawing import lots_given
from kb.work.picking import Need, Picked, pick
from kb.work.recording import judge, numbered
from kb.work.yields import distribution, learned

ON = "2027-03-01"
FACTS = {"opened_life_days": 30}


def facts(item: str) -> dict[str, Any]:
    return FACTS if item == "x" else {}


def shelf(*lots: Lot) -> Shelf:
    return Shelf({lot.lot: lot for lot in lots})


def lot(mark: str, quantity: str, expires: str | None, item: str = "x", **more: Any) -> Lot:
    return Lot(mark, item, Decimal(quantity), more.pop("unit", "mL"), "2027-01-10", expires=expires, **more)


def one(found: Picked) -> dict[str, str]:
    return {take.lot: str(take.quantity) for take in found.lines[0].takes}


def test_the_first_to_expire_goes_first_and_a_lot_is_split() -> None:
    here = shelf(lot("late", "100", "2027-09-01"), lot("soon", "40", "2027-04-01"))
    found = pick([Need("x", "mL", Decimal("50.6"))], here, facts, ON)
    assert one(found) == {"soon": "40", "late": "10.6"}
    assert not found.short


def test_an_opened_lot_ends_with_its_opened_life() -> None:
    """Opened on 2 February with 30 days: usable through 4 March, so it goes before one that expires on 1 April."""
    here = shelf(lot("sealed", "50", "2027-04-01"), lot("opened", "50", "2027-12-01", opened="2027-02-02"))
    assert one(pick([Need("x", "mL", Decimal(60))], here, facts, ON)) == {"opened": "50", "sealed": "10"}
    later = pick([Need("x", "mL", Decimal(60))], here, facts, "2027-03-05")
    assert one(later) == {"sealed": "50"}
    assert later.lines[0].short == 10
    assert [p.lot for p in later.lines[0].passed_over] == ["opened"]
    assert "opened-life-ended" in later.lines[0].passed_over[0].reason


@pytest.mark.parametrize(
    ("bad", "state"),
    [
        ({"expires": "2027-02-28"}, "expired"),
        ({"expires": "2028-01-01", "condemned": "froze"}, "condemned"),
        ({"expires": "2028-01-01", "excursion": "31 degC"}, "storage-excursion"),
    ],
)
def test_what_must_not_be_used_is_never_picked(bad: dict[str, Any], state: str) -> None:
    expires = bad.pop("expires")
    found = pick([Need("x", "mL", Decimal(5), Decimal(2))], shelf(lot("A", "40", expires, **bad)), facts, ON)
    assert one(found) == {}
    assert found.lines[0].short == 5
    assert found.lines[0].reorder_packs == 3
    assert found.lines[0].passed_over[0].reason.startswith(state)


def test_what_others_have_reserved_stays_for_them() -> None:
    here = shelf(lot("A", "40", "2027-04-01"))
    found = pick([Need("x", "mL", Decimal(30))], here, facts, ON, {"A": (Decimal("0.02"), "L")})
    assert one(found) == {"A": "20.00"}
    assert found.lines[0].short == 10
    assert "reserved" in found.lines[0].passed_over[0].reason


def test_units_of_one_kind_convert_and_others_are_passed_over() -> None:
    here = shelf(lot("A", "0.04", "2027-04-01", unit="L"), lot("B", "40", "2027-04-01", unit="g"))
    found = pick([Need("x", "mL", Decimal(50))], here, facts, ON)
    assert {take.lot: take.quantity for take in found.lines[0].takes} == {"A": 40}
    assert found.lines[0].short == 10
    assert "can't be converted" in found.lines[0].passed_over[0].reason


#: A third is used on 1 March, another on the 3rd, the rest on the 9th.
THIRDS = (("2027-03-01", Decimal("0.3")), ("2027-03-03", Decimal("0.6")), ("2027-03-09", Decimal(1)))


def test_a_lot_that_ends_while_the_work_goes_on_gives_what_is_used_by_then() -> None:
    here = shelf(lot("A", "40", "2027-03-03"), lot("B", "40", "2027-03-09"))
    found = pick([Need("x", "mL", Decimal(60), used=THIRDS)], here, facts, ON)
    assert one(found) == {"A": "36.000000", "B": "24.000000"}
    assert [take.ends for take in found.lines[0].takes] == [True, False]
    assert "from 2027-03-09 on it is past its last day, 2027-03-03" in found.lines[0].passed_over[0].reason


def test_a_lot_that_is_dead_at_its_hour_is_not_taken() -> None:
    later = THIRDS[1:]
    here = shelf(lot("A", "100", "2027-03-02"), lot("B", "40", "2027-03-08"))
    line = pick([Need("x", "mL", Decimal(60), used=later)], here, facts, ON).lines[0]
    assert {take.lot: take.quantity for take in line.takes} == {"B": 36}
    assert line.short == 24
    assert next((p.lot, p.reason) for p in line.passed_over) == (
        "A",
        "its last day, 2027-03-02, is before it is used, 2027-03-03",
    )


def test_a_container_that_the_work_opens_has_the_life_that_begins_then() -> None:
    """Thirty days once opened: opened on 1 March it is good through the 31st, whatever the container says."""
    long = (("2027-03-01", Decimal("0.5")), ("2027-03-31", Decimal("0.75")), ("2027-04-01", Decimal(1)))
    here = shelf(lot("A", "100", "2027-12-01"), lot("B", "100", "2027-12-02"))
    line = pick([Need("x", "mL", Decimal(60), used=long)], here, facts, ON).lines[0]
    assert {take.lot: take.quantity for take in line.takes} == {"A": 45, "B": 15}
    assert [(take.usable_until, take.ends) for take in line.takes] == [("2027-03-31", True), ("2027-12-02", False)]
    assert line.passed_over[0].reason.startswith("opened on 2027-03-01 it keeps until 2027-03-31")


def test_a_life_that_ends_within_a_day_is_held_to_the_hour() -> None:
    hours = (("2027-03-01T09:00", Decimal("0.4")), ("2027-03-01T15:00", Decimal(1)))
    here = shelf(lot("A", "100", None, thawed="2027-02-22T10:00"), lot("B", "100", "2027-12-02"))
    line = pick([Need("x", "mL", Decimal(10), used=hours)], here, lambda _: {"thawed_life_h": 168}, ON).lines[0]
    assert {take.lot: take.quantity for take in line.takes} == {"A": 4, "B": 6}


@st.composite
def shelves(draw: st.DrawFn) -> Shelf:
    dates = st.dates(min_value=date(2027, 1, 1), max_value=date(2028, 1, 1))
    lots = []
    for number in range(draw(st.integers(0, 6))):
        more: dict[str, Any] = {"opened": draw(st.sampled_from([None, "2027-01-20", "2027-02-20"]))}
        more["condemned"] = draw(st.sampled_from(["", "", "", "froze"]))
        expires = draw(st.one_of(st.none(), dates.map(str)))
        lots.append(lot(f"L{number}", str(draw(st.integers(0, 50))), expires, draw(st.sampled_from("xxy")), **more))
    return shelf(*draw(st.permutations(lots)))


@settings(max_examples=300)
@given(shelves(), st.integers(1, 150), st.integers(0, 20))
def test_a_pick_is_exact_in_date_and_in_order(here: Shelf, needed: int, kept_for_others: int) -> None:
    others = {mark: (Decimal(kept_for_others), "mL") for mark in here.lots}
    need = Need("x", "mL", Decimal(needed))
    line = pick([need], here, facts, ON, others).lines[0]
    assert sum(take.quantity for take in line.takes) + line.short == needed
    taken = {take.lot: take.quantity for take in line.takes}
    usable = [
        (its.usable_until or "9999", one_lot.lot, max(Decimal(0), one_lot.quantity - kept_for_others))
        for one_lot in here.lots.values()
        if one_lot.item == "x" and (its := life(one_lot, FACTS, ON)).usable
    ]
    assert all(quantity <= {mark: free for _, mark, free in usable}[mark] for mark, quantity in taken.items())
    if line.short:
        assert line.short == needed - sum(free for *_, free in usable)
    # Nothing is taken from a lot while one that ends earlier still has some.
    for until, mark, free in usable:
        if taken.get(mark, 0) < free:
            assert all(u <= until for u, other, _ in usable if other in taken)
    turned = Shelf(dict(reversed(here.lots.items())))
    assert taken == {take.lot: take.quantity for take in pick([need], turned, facts, ON, others).lines[0].takes}


# -- outcomes


LIMITS = {
    "resistance_deviation_pct": {"at_most": 0.5, "unit": "%"},
    "insulation_megaohm": {"at_least": 1000.0, "unit": "megaohm"},
}


def test_a_limit_is_kept_at_the_limit_and_broken_beyond_it() -> None:
    good = {"resistance_deviation_pct": -0.5, "insulation_megaohm": 1000.0}
    assert judge("1", "", good, LIMITS) == ("pass", "", ())
    for name, value in (("resistance_deviation_pct", -0.51), ("insulation_megaohm", 999.0)):
        assert judge("1", "", {**good, name: value}, LIMITS)[0] == "fail"
        with pytest.raises(BadInput, match="can't pass"):
            judge("1", "pass", {**good, name: value}, LIMITS)


def test_what_was_not_measured_is_never_a_silent_pass() -> None:
    with pytest.raises(BadInput, match="not measured"):
        judge("1", "", {"insulation_megaohm": 5000.0}, LIMITS)
    assert judge("1", "pass", {"insulation_megaohm": 5000.0}, LIMITS)[2] == ("resistance_deviation_pct",)
    with pytest.raises(BadInput, match="did you mean"):
        judge("1", "pass", {"insulation_megohm": 5000.0}, LIMITS)


def test_small_words() -> None:
    assert numbered("1-3, 7,b-2") == ["1", "2", "3", "7", "b-2"]
    assert lots_given(["A-1,B=2.5", "C"]) == {"A-1": None, "B": Decimal("2.5"), "C": None}
    for words in ("A=much", "A=-5", "A=0"):
        with pytest.raises(BadInput, match="--lots A"):
            lots_given([words])
    with pytest.raises(BadInput, match="goes backwards; write 1-5"):
        numbered("5-1")
    with pytest.raises(BadInput, match="at once"):
        numbered("1-9999999")


# -- yield


def test_the_learned_yield_is_the_beta_distribution() -> None:
    draw = random.Random(7)
    for _ in range(200):
        good, bad, share = draw.randint(1, 400), draw.randint(1, 60), draw.random()
        assert distribution(share, good, bad) == pytest.approx(stats.beta.cdf(share, good, bad), abs=1e-9)
    for passed, failed, expected in ((153, 7, 0.95), (0, 0, 0.95), (3, 9, 0.5), (2000, 0, 1.0)):
        found = learned(passed, failed, expected)
        assert (found.low, found.high) == pytest.approx(stats.beta.ppf([0.05, 0.95], found.good, found.bad), abs=1e-7)
        assert found.low < found.mean < found.high


def test_flags_and_picking_agree_on_what_may_be_used() -> None:
    here = shelf(lot("A", "40", "2027-02-01"), lot("B", "0", "2028-01-01"), lot("C", "40", None))
    usable = {j.lot.lot for j in judged(here, facts, ON) if j.life.usable}
    assert set(one(pick([Need("x", "mL", Decimal(1000))], here, facts, ON))) == usable == {"C"}
