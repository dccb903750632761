"""Picking: first expired first out, reservations, what is short. Recording, tracing, learning. One lab, invented."""

from __future__ import annotations

import json
import random
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from kb.base.errors import BadInput, StoreError
from kb.stock.admission import record as receive
from kb.stock.flags import judged
from kb.stock.ledger import Lot, Shelf
from kb.stock.log.memory import MemoryStore
from kb.stock.shelf import shelf_of
from kb.stock.shelf_life import life
from kb.work import installations as kept
from kb.work.picking import Need, Picked, pick
from kb.work.recording import judge, lots_given, numbered
from kb.work.tracing import trace_job, trace_lot
from kb.work.yields import distribution, learned
from tests.stock.factory import event, received

ON = "2027-03-01"
FACTS = {"opened_life_days": 30}


def facts(item: str) -> dict[str, Any]:
    return FACTS if item == "x" else {}


def shelf(*lots: Lot) -> Shelf:
    return Shelf({lot.lot: lot for lot in lots}, {})


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


def test_a_lot_that_ends_while_the_work_goes_on_is_marked() -> None:
    here = shelf(lot("A", "40", "2027-03-03"), lot("B", "40", "2027-03-09"))
    found = pick([Need("x", "mL", Decimal(60))], here, facts, ON, through="2027-03-09")
    assert [take.ends for take in found.lines[0].takes] == [True, False]


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


@settings(max_examples=300, deadline=None)
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
    turned = Shelf(dict(reversed(here.lots.items())), {})
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
    with pytest.raises(BadInput):
        lots_given(["A=much"])


# -- records


def record_of(numbers: list[str], *, fails: tuple[str, ...] = (), lots: tuple[str, ...] = ("A",), **more: Any) -> Any:
    return {
        "lot": "bracket", "at": "2027-03-02", "who": "kim", "chain": {"adhesive": "x"},
        "items": dict.fromkeys(lots, "x"),
        "draws": [{"lot": mark, "quantity": str(len(numbers)), "unit": "mL"} for mark in lots],
        "installations": [
            {"installation": n, "outcome": "fail" if n in fails else "pass", "lots": list(lots), "part": f"b{n}"}
            for n in numbers
        ],
        **more,
    }  # fmt: skip


def stores() -> tuple[MemoryStore, MemoryStore]:
    stock = MemoryStore()
    receive(stock, [received("A", item="x"), received("B", item="x")])
    return MemoryStore(), stock


def test_a_record_draws_the_stock_down_once() -> None:
    made, stock = stores()
    kept.record(made, stock, record_of(["1", "2"]))
    assert shelf_of(stock).lots["A"].quantity == 498
    assert kept.settle(made, stock) == []
    with pytest.raises(BadInput, match="recorded already"):
        kept.record(made, stock, record_of(["2"]))
    assert shelf_of(stock).lots["A"].quantity == 498
    kept.record(made, stock, record_of(["2"], fails=("2",), again=True, reason="let go in service", draws=[]))
    assert [one.outcome for one in kept.installations(made.events())] == ["pass", "fail"]
    assert shelf_of(stock).lots["A"].quantity == 498


def test_a_stop_between_record_and_stock_is_made_good() -> None:
    made, stock = stores()

    class Stopped(MemoryStore):
        def append(self, *_: Any) -> Any:
            raise StoreError("", "the lights went out")

    broken = Stopped(stock.events())
    with pytest.raises(StoreError):
        kept.record(made, broken, record_of(["1", "2"]))
    assert shelf_of(stock).lots["A"].quantity == 500
    kept.record(made, stock, record_of(["3"]))
    assert shelf_of(stock).lots["A"].quantity == 497
    assert [e["reason"] for e in stock.events({"A"}) if e["type"] == "used"] == ["record 1", "record 2"]


def test_two_who_settle_at_once_take_it_once() -> None:
    made, stock = stores()

    class Late(MemoryStore):
        """What is read of it was read before the other one wrote; what is written goes to the true one."""

        def events(self, lots: Any = None) -> Any:
            return [event for event in stock.events(lots) if event["type"] == "received"]

        def append(self, lots: Any, decide: Any) -> Any:
            return stock.append(lots, decide)

    kept.record(made, Late(), record_of(["1", "2"]))
    assert kept.settle(made, Late()) == []
    assert shelf_of(stock).lots["A"].quantity == 498


def test_what_was_changed_in_the_records_is_found(tmp_path: Path) -> None:
    from kb.stock.log.tinystore import TinyStore

    stock = TinyStore(tmp_path)
    assert kept.verify(tmp_path, stock).problems == ()
    receive(stock, [received("A", item="x")])
    kept.record(kept.store_of(tmp_path), stock, record_of(["1"]))
    kept.reserve(kept.store_of(tmp_path), "bracket", [("A", Decimal(1), "mL")], ON, "kim")
    sound = kept.verify(tmp_path, stock)
    assert (sound.events, sound.problems) == (2, ())
    unsettled = kept.verify(tmp_path, MemoryStore())
    assert unsettled.problems == ("record 1: what it took is not in the stock's ledger; the next record puts it there",)
    segment = kept.store_of(tmp_path).storage.kept_files()[0]
    segment.write_bytes(segment.read_bytes().replace(b'"pass"', b'"fail"'))
    assert any("was changed since it was written" in said for said in kept.verify(tmp_path, stock).problems)


def test_what_the_shelf_does_not_have_is_refused_and_nothing_is_recorded() -> None:
    made, stock = stores()
    wanted = record_of(["1"])
    wanted["draws"][0]["quantity"] = "501"
    with pytest.raises(BadInput, match="500 mL are left"):
        kept.record(made, stock, wanted)
    assert made.events() == []
    with pytest.raises(BadInput, match=r"installations\.0\.outcome"):
        kept.record(made, stock, {**record_of(["1"]), "installations": [{"installation": "1", "outcome": "maybe"}]})


def test_traces_go_both_ways() -> None:
    made, stock = stores()
    kept.record(made, stock, record_of(["1", "2", "3"], fails=("2", "3")))
    kept.record(made, stock, record_of(["4"], lots=("B",)))
    kept.record(made, stock, record_of(["5"], lots=("A", "B"), lot="other job"))
    receive(stock, [event("used", "A", quantity="3", unit="mL", at="2027-03-05")])
    everything = kept.installations(made.events())
    job = trace_job("bracket", everything)
    assert [(share.lot, share.installations, share.failed) for share in job.lots] == [("A", 3, 2), ("B", 1, 0)]
    bad = trace_lot("A", everything, stock.events({"A"}))
    assert [one.name for one in bad.installations] == ["1", "2", "3", "5"]
    assert [(who, part, [i.name for i in ones]) for who, part, ones in bad.recall] == [
        ("bracket", "b1", ["1"]),
        ("other job", "b5", ["5"]),
    ]
    assert [event["quantity"] for event in bad.other_uses] == ["3"]


def test_a_reservation_shrinks_as_it_is_used_and_ends() -> None:
    made, stock = stores()
    kept.reserve(made, "bracket", [("A", Decimal(10), "mL"), ("B", Decimal(1), "mL")], ON, "kim")
    assert kept.reserved(made.events()) == {"A": (Decimal(10), "mL"), "B": (Decimal(1), "mL")}
    assert kept.reserved(made.events(), apart_from="bracket") == {}
    kept.record(made, stock, record_of(["1", "2", "3"]))
    assert kept.reserved(made.events()) == {"A": (Decimal(7), "mL"), "B": (Decimal(1), "mL")}
    kept.reserve(made, "other", [("A", Decimal("0.005"), "L")], ON, "kim")
    assert kept.reserved(made.events())["A"] == (Decimal(12), "mL")
    kept.reserve(made, "bracket", [], ON, "kim")
    assert kept.reserved(made.events()) == {"A": (Decimal("0.005"), "L")}


def test_records_outlive_the_program(tmp_path: Path) -> None:
    from kb.stock.log.tinystore import TinyStore

    stock = TinyStore(tmp_path)
    receive(stock, [received("A", item="x")])
    kept.record(kept.store_of(tmp_path), stock, record_of([str(n) for n in range(1, 161)]))
    assert len(kept.installations(kept.store_of(tmp_path).events())) == 160
    assert TinyStore(tmp_path).verify().problems == ()
    assert json.dumps(kept.store_of(tmp_path).events())


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


def test_attempts_are_the_beta_binomial() -> None:
    draw = random.Random(8)
    for _ in range(60):
        found = learned(draw.randint(0, 200), draw.randint(0, 20), draw.choice([0.5, 0.8, 0.95]))
        needed, confidence = draw.randint(1, 80), draw.choice([0.5, 0.9, 0.95])
        attempts = found.attempts(needed, confidence)
        tail = [stats.betabinom.sf(needed - 1, n, found.good, found.bad) for n in (attempts - 1, attempts)]
        assert tail[1] >= confidence - 1e-9
        assert attempts == needed or tail[0] < confidence + 1e-9


def test_flags_and_picking_agree_on_what_may_be_used() -> None:
    here = shelf(lot("A", "40", "2027-02-01"), lot("B", "0", "2028-01-01"), lot("C", "40", None))
    usable = {j.lot.lot for j in judged(here, facts, ON) if j.life.usable}
    assert set(one(pick([Need("x", "mL", Decimal(1000))], here, facts, ON))) == usable == {"C"}
