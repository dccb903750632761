"""The fold, its refusals, corrections, renames, and the day that is asked about; then any sequence of events at all."""

from __future__ import annotations

import contextlib
from datetime import date
from decimal import Decimal
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.base.errors import BadInput
from kb.stock.fold import EMPTY, Shelf, fold, shelf_on
from kb.stock.ledger import Ledger, histories
from kb.stock.lots import Lot, Refused
from tests.stock.factory import event, in_memory, received, record, used


def lot(*drafts: dict[str, Any]) -> Lot:
    return in_memory(*drafts).lot("A-17")


def test_a_life_of_a_lot() -> None:
    found = lot(
        received(expires="2027-09-30", made="2026-09-30", storage_c=5, location="fridge", received="2027-03-01"),
        event("opened", at="2027-03-02"),
        used(quantity="0.1", unit="L"),
        event("moved", location="bench 2"),
        event("counted", quantity="395.5", unit="mL"),
        event("requalified", until="2027-12-31", test="R-12", reason="lap shear as new"),
    )
    assert found.quantity == Decimal("395.5")
    assert (found.opened, found.location, found.storage_c) == ("2027-03-02", "bench 2", None)
    assert found.requalified_until == "2027-12-31"
    assert found.used == (("2027-03-02", "100"),)


REFUSED = {
    "used of nothing": ([], used(), "there is no such lot; receive it first"),
    "received twice": ([received()], received(), "there is a lot of that name already; name this one otherwise"),
    "received twice, as of a day before": (
        [received()],
        received(at="2027-02-01"),
        "there is a lot of that name already; name this one otherwise",
    ),
    "more than is left": ([received(quantity="2")], used(quantity="2.000000001"), "and 2 mL are left"),
    "litres of grams": ([received(unit="g")], used(unit="mL"), "mL can't be converted to g; give the amount in g"),
    "opened twice": ([received(), event("opened")], event("opened"), "was opened already, 2027-03-03"),
    "thawed twice": ([received(), event("thawed")], event("thawed"), "was thawed already"),
    "mixed twice": ([received(), event("mixed")], event("mixed"), "was mixed already"),
    "opened when empty": ([received(quantity="1"), used()], event("opened"), "is empty; count it"),
    "before it was there": ([received()], used(at="2027-02-28"), "2027-02-28 is before the lot was received"),
    "late, and more than was left then": (
        [received(quantity="5"), used(quantity="4", at="2027-03-02"), event("counted", quantity="9", unit="mL")],
        used(quantity="2", at="2027-03-02"),
        "2 mL asked for, and 1 mL are left",
    ),
    "late, so that a later one no longer adds up": (
        [received(quantity="5"), used(quantity="4", at="2027-03-05")],
        used(quantity="2", at="2027-03-02"),
        "with it event 2 of 2027-03-05 no longer adds up: 4 mL asked for, and 3 mL are left; undo that event",
    ),
    "used when condemned": ([received(), event("condemned", reason="clot")], used(at="2027-03-04"), "is condemned"),
    "condemned twice": (
        [received(), event("condemned", reason="clot")],
        event("condemned", reason="again"),
        "is condemned already",
    ),
    "requalified when condemned": (
        [received(), event("condemned", reason="clot")],
        event("requalified", until="2028-01-01", test="T", reason="r"),
        "condemned stock is not requalified",
    ),
    "released when condemned": (
        [received(), event("condemned", reason="clot")],
        event("released", reason="r"),
        "condemned stock is not released",
    ),
    "held twice": ([received(), event("held", reason="cloudy")], event("held", reason="r"), "is on hold already"),
    "freed when not held": ([received()], event("freed", reason="r"), "is not on hold"),
    "disposed of when empty": ([received(quantity="1"), used()], event("disposed"), "is empty already"),
    "renamed to one that is there": (
        [received(), received("B")],
        event("renamed", to="B"),
        "B: there is a lot of that name already",
    ),
    "requalified into the past": (
        [received()],
        event("requalified", until="2027-03-02", test="T", reason="r"),
        "is before the test",
    ),
    "correction of nothing": ([received()], event("corrected", corrects=2, void=True, reason="r"), "has no event 2"),
    "correction of a correction": (
        [received(), used(), event("corrected", corrects=2, void=True, reason="r")],
        event("corrected", corrects=3, void=True, reason="r"),
        "has no event 3 that can be corrected",
    ),
    "correction of a rename": (
        [received("B"), event("renamed", "B", to="A-17")],
        event("corrected", corrects=2, void=True, reason="r"),
        "has no event 2 that can be corrected",
    ),
    "correction below zero": (
        [received(quantity="5"), used(quantity="5")],
        event("corrected", corrects=1, change={"quantity": "4"}, reason="r"),
        "5 mL asked for, and 4 mL are left",
    ),
    "void receipt of a used lot": (
        [received(), used()],
        event("corrected", corrects=1, void=True, reason="r"),
        "is before the lot was received",
    ),
    "corrected to nonsense": (
        [received(), used()],
        event("corrected", corrects=2, change={"quantity": "-1"}, reason="r"),
        "event 2 corrected: quantity: must be more than 0",
    ),
    "corrected field that isn't": (
        [received(), used()],
        event("corrected", corrects=2, change={"colour": "red"}, reason="r"),
        "colour: is not a field of 'used'",
    ),
    "corrected name": (
        [received(), used()],
        event("corrected", corrects=1, change={"lot": "B"}, reason="r"),
        "change.lot: can't be changed; rename the lot",
    ),
    "corrected tie": (
        [received(), used()],
        event("corrected", corrects=2, change={"record": 7}, reason="r"),
        "change.record: can't be changed",
    ),
    "corrected into the far future": (
        [received(), used()],
        event("corrected", corrects=2, change={"at": "2062-03-01"}, reason="r"),
        "event 2 corrected: at: 2062-03-01 is too far ahead",
    ),
    "expires before made": (
        [],
        received(made="2027-01-01", expires="2026-01-01"),
        "expires: 2026-01-01 is before it was made",
    ),
    "made after it came": ([], received(made="2027-03-02"), "made: 2027-03-02 is after the day of this event"),
    "no reason given": ([received()], event("condemned"), "reason: is missing"),
    "an empty name": ([], received(who=" "), "who: may not be empty"),
    "half a character": ([], received("A\udcff"), "lot: holds a byte that is no text"),
    "not a number": ([], received(quantity="1,5"), "'1,5' is not a number; write it with a decimal point"),
    "not finite": ([], received(quantity="NaN"), "'NaN' is not a number"),
    "too large": ([], received(quantity="1000000001"), "is beyond 1000000000"),
    "too fine": ([], received(quantity="0.0000000001"), "more than 9 decimals"),
    "no such day": ([], received(at="2027-02-29"), "is no day or time of the calendar"),
    "another calendar": ([], received(at="01/03/2027"), "is not an ISO date"),
    "an unknown type": ([], {"type": "usd"}, "did you mean 'used'?"),
    "a number of its own": ([], received(id=7), "id: is given by the program; leave it out"),
    "a day of recording of its own": ([], received(recorded="2027-01-01"), "recorded: is given by the program"),
    "a tie of its own": ([received()], used(record=1), "record: is given by the program"),
    "a number that is none": ([received()], event("corrected", corrects=10**13, void=True, reason="r"), "corrects: "),
    "ahead of today": ([], received(at="2028-02-01"), "at: 2028-02-01 is ahead of today (2027-12-31); give the day"),
    "received ahead of today": ([], received(received="2028-02-01"), "received: 2028-02-01 is ahead of today"),
}


@pytest.mark.parametrize("case", REFUSED.values(), ids=REFUSED.keys())
def test_refused(case: tuple[list[dict[str, Any]], dict[str, Any], str]) -> None:
    before, draft, said = case
    ledger = in_memory(*before)
    with pytest.raises(BadInput) as refused:
        record(ledger, [draft])
    assert said in str(refused.value)
    assert "\n" not in str(refused.value)
    assert len(ledger.documents("stock")) == len(before)


# -- dates


def test_what_is_recorded_late_takes_its_place_by_its_own_date() -> None:
    ledger = in_memory(received(), event("counted", at="2027-03-05", quantity="100", unit="mL"))
    record(ledger, [used(quantity="30", at="2027-03-04"), used(quantity="30", at="2027-03-06")])
    assert ledger.lot("A-17").quantity == 70, "the count of 5 March has the use of the 4th behind it"
    assert ledger.lot("A-17", "2027-03-04").quantity == 470


def test_within_a_day_times_decide_and_what_has_none_comes_last_of_what_was_recorded() -> None:
    day = "2027-03-02"
    ledger = in_memory(
        received(quantity="10"),
        event("counted", at=f"{day}T12:00", quantity="5", unit="mL"),
        used(quantity="3", at=day),
        used(quantity="2", at=f"{day}T09:00"),
    )
    assert ledger.lot("A-17").quantity == 2, "9 o'clock is before the count, the use without a time after it"
    record(ledger, [used(quantity="1", at=f"{day}T12:30")])
    assert ledger.lot("A-17").quantity == 1


def test_a_date_ahead_is_asked_about_bounded_and_locks_nothing() -> None:
    ledger = in_memory(received(quantity="10"))
    ahead = used(quantity="4", at="2028-03-01")
    with pytest.raises(BadInput, match="ahead of today"):
        record(ledger, [ahead])
    ledger.record([ahead], "2027-12-31", ahead=True)
    with pytest.raises(BadInput, match="too far ahead of today"):
        ledger.record([used(at="2062-03-01")], "2027-12-31", ahead=True)
    record(ledger, [used(quantity="6", at="2027-12-30")])
    assert ledger.lot("A-17", "2027-12-31").quantity == 4
    with pytest.raises(Refused, match="event 2 of 2028-03-01 no longer adds up"):
        record(ledger, [used(quantity="1", at="2027-12-30")])
    record(ledger, [event("corrected", corrects=2, void=True, reason="r"), used(quantity="4", at="2027-12-30")])
    assert ledger.lot("A-17").quantity == 0


def test_a_clock_that_ran_ahead_locks_nothing() -> None:
    ledger = in_memory(received(quantity="10"))
    ledger.record([used(quantity="4", at="2062-01-01")], today="2062-01-01")
    record(ledger, [used(quantity="5")])
    assert ledger.lot("A-17", "2027-12-31").quantity == 5
    record(ledger, [event("corrected", corrects=2, void=True, reason="the clock"), used(quantity="5")])


@pytest.mark.parametrize(
    ("on", "quantity", "opened", "condemned"),
    [
        ("2027-03-01", 10, None, ""),
        ("2027-03-02", 9, None, ""),
        ("2027-03-04", 9, "2027-03-04T08:00", ""),
        ("2027-03-04T07:59", 9, None, ""),
        ("2027-03-06", 9, "2027-03-04T08:00", "gelled"),
    ],
)
def test_a_lot_on_a_day(on: str, quantity: int, opened: str | None, condemned: str) -> None:
    ledger = in_memory(
        received(quantity="10"),
        used(),
        event("opened", at="2027-03-04T08:00"),
        event("condemned", at="2027-03-06", reason="gelled"),
    )
    found = ledger.lot("A-17", on)
    assert (int(found.quantity), found.opened, found.condemned) == (quantity, opened, condemned)


def test_what_came_later_is_not_there_yet() -> None:
    ledger = in_memory(received(), received("B", at="2027-05-01"))
    assert list(ledger.shelf("2027-04-30").lots) == ["A-17"]
    with pytest.raises(BadInput, match="B: was not there yet on 2027-04-30; it came on 2027-05-01"):
        ledger.lot("B", "2027-04-30")
    ledger = in_memory(received("C", at="2027-05-01", received="2027-03-15"))
    with pytest.raises(BadInput, match="it came on 2027-03-15 and was put down on 2027-05-01: correct"):
        ledger.lot("C", "2027-04-30")


def test_what_was_known_then() -> None:
    """Lots, quantities and tests as they were known on the first of September, whatever is known now."""
    ledger = in_memory()
    record(ledger, [received("A", quantity="10", expires="2027-08-31")], today="2027-03-01")
    record(ledger, [used("A", "4", at="2027-05-01")], today="2027-05-02")
    record(ledger, [used("A", "1", at="2027-06-01")], today="2027-09-05")
    test = event("requalified", "A", at="2027-08-30", until="2027-12-31", test="T", reason="good")
    record(ledger, [test], today="2027-09-02")
    record(ledger, [received("B", at="2027-08-01")], today="2027-11-01")
    record(ledger, [event("corrected", "A", at="2027-11-02", corrects=2, void=True, reason="r")], today="2027-11-02")

    def told(shelf: Shelf) -> list[tuple[str, str, str | None]]:
        return [(lot.lot, str(lot.quantity), lot.requalified_until) for lot in shelf.lots.values()]

    assert told(ledger.shelf("2027-09-01", "2027-09-01")) == [("A", "6", None)]
    assert told(ledger.shelf("2027-09-01")) == [("A", "9", "2027-12-31"), ("B", "500", None)]
    assert ledger.shelf("2027-04-30", "2027-09-30").lots["A"].quantity == 10


def test_what_was_known_when_a_clock_ran_wrong_still_adds_up() -> None:
    ledger = in_memory()
    record(ledger, [received("A", quantity="10")], today="2062-01-01")
    record(ledger, [used("A", "4")], today="2027-03-02")
    record(ledger, [used("A", "1")], today="2027-03-05")
    assert ledger.shelf(known="2027-03-03").lots["A"].quantity == 6
    assert ledger.shelf(known="2027-03-01").lots == {}


# -- corrections


def test_a_correction_counts_from_the_start() -> None:
    """The first use was 50 and not 500: the second, refused before, is then possible."""
    ledger = in_memory(received(), used(quantity="500"))
    with pytest.raises(Refused):
        record(ledger, [used(quantity="100")])
    record(ledger, [event("corrected", corrects=2, change={"quantity": "50"}, reason="a nought too many")])
    record(ledger, [used(quantity="100", at="2027-03-04")])
    assert ledger.lot("A-17").quantity == 350


def test_corrections_add_up_and_a_voided_event_can_come_back() -> None:
    ledger = in_memory(received(), used(quantity="10"))
    record(ledger, [event("corrected", corrects=2, change={"quantity": "20"}, reason="r")])
    record(ledger, [event("corrected", corrects=2, void=True, change={"at": "2027-03-02T10:00"}, reason="r")])
    assert ledger.lot("A-17").quantity == 500
    record(ledger, [event("corrected", corrects=2, void=False, reason="r")])
    assert ledger.lot("A-17").quantity == 480
    assert ledger.lot("A-17").last_at == "2027-03-02T10:00"


def test_a_corrected_date_moves_the_event() -> None:
    ledger = in_memory(received(), used(quantity="10"), event("counted", quantity="100", unit="mL"))
    record(ledger, [event("corrected", corrects=2, change={"at": "2027-03-09"}, reason="r")])
    assert ledger.lot("A-17").quantity == 90
    assert ledger.lot("A-17", "2027-03-08").quantity == 100


def test_a_field_can_be_taken_back_to_unknown() -> None:
    ledger = in_memory(received(expires="2027-09-30"))
    record(ledger, [event("corrected", corrects=1, change={"expires": None}, reason="read from another bottle")])
    assert ledger.lot("A-17").expires is None


def test_a_receipt_taken_back_frees_the_name() -> None:
    ledger = in_memory(received(quantity="7"))
    record(ledger, [event("corrected", corrects=1, void=True, reason="no such bottle")])
    assert ledger.shelf().lots == {}
    assert len(ledger.history("A-17")) == 2
    record(ledger, [received(quantity="9"), used()])
    assert ledger.lot("A-17").quantity == 8
    assert [e["id"] for e in ledger.history("A-17")] == [3, 4]


def test_a_decision_holds_until_the_lot_is_moved_or_leaves_its_limits_again() -> None:
    logged: dict[str, Any] = {"location": "fridge", "since": "2027-03-01", "hours": 24, "low_c": 2, "high_c": 30}
    warm = event("temperature-logged", until="2027-03-02", excursion="30 degC", **logged)
    assert lot(received(), warm).excursion == "30 degC"
    released = lot(received(), warm, event("released", reason="an hour only"))
    assert (released.excursion, released.accepted) == ("", True)
    assert not lot(received(), event("released", reason="r"), event("moved", location="bench")).accepted
    again = lot(received(), event("released", reason="r"), warm)
    assert (again.excursion, again.accepted) == ("30 degC", False)


def test_held_freed_and_disposed_of() -> None:
    ledger = in_memory(received(), event("held", reason="cloudy"))
    assert ledger.lot("A-17").held == "cloudy"
    record(ledger, [event("freed", reason="clear again", at="2027-03-04")])
    assert ledger.lot("A-17").held == ""
    record(ledger, [event("condemned", reason="gelled", at="2027-03-05"), event("disposed", at="2027-03-06")])
    found = ledger.lot("A-17")
    assert (str(found.quantity), found.disposed, found.condemned) == ("0", "2027-03-06", "gelled")


# -- names


def test_a_wrong_name_is_mended_and_free_again() -> None:
    ledger = in_memory(received("A-71", quantity="10"), used("A-71", "1"), event("renamed", "A-71", to="A-17"))
    record(ledger, [used("A-17", "2")])
    with pytest.raises(BadInput, match="A-71: there is no such lot; it is called 'A-17' now"):
        ledger.lot("A-71")
    record(ledger, [received("A-71", quantity="50"), used("A-71", "5"), used("A-17", "3", at="2027-03-01")])
    assert {mark: lot.quantity for mark, lot in ledger.shelf().lots.items()} == {"A-17": 4, "A-71": 45}
    assert [e["id"] for e in ledger.history("A-17")] == [1, 2, 3, 4, 7]
    assert [e["id"] for e in ledger.history("A-71")] == [5, 6]
    record(ledger, [event("renamed", "A-71", to="B"), event("renamed", "A-17", to="A-71")])
    assert list(ledger.shelf().lots) == ["A-71", "B"]
    assert ledger.shelf().lots["A-71"].names == (("A-71", 3), ("A-17", 9))
    assert ledger.verify().problems == ()


# -- any sequence of events

MARKS = st.sampled_from(["A", "B", "ü 3"])
AMOUNTS = st.decimals(min_value="0.001", max_value="300", places=3).map(str)
TIMES = st.sampled_from(["", "", "T08:00", "T16:30"])
DAYS = st.tuples(st.dates(date(2027, 1, 1), date(2027, 1, 9)).map(date.isoformat), TIMES).map("".join)
KINDS: list[dict[str, Any]] = [
    {"type": "received", "item": "acetone", "expires": "2028-01-31", "location": "shelf"},
    {"type": "received", "item": "ethanol", "storage_c": 5.5, "batch": "M-1"},
    {"type": "used", "job": "J-1"},
    {"type": "used"},
    {"type": "used"},
    {"type": "counted"},
    {"type": "opened"},
    {"type": "thawed"},
    {"type": "moved", "location": "bench; 2"},
    {"type": "requalified", "until": "2029-01-01", "test": "T", "reason": 'as "new"'},
    {"type": "held", "reason": "cloudy"},
    {"type": "freed", "reason": "clear"},
    {"type": "disposed"},
    {"type": "renamed"},
    {"type": "condemned", "reason": "gelled\tin the jar"},
    {"type": "corrected", "void": True, "reason": "r"},
    {"type": "corrected", "void": False, "reason": "r"},
    {"type": "corrected", "change": {"quantity": "7.5"}, "reason": "r"},
    {"type": "corrected", "change": {"at": "2027-01-05"}, "reason": "r"},
]


@st.composite
def drafts(draw: st.DrawFn) -> dict[str, Any]:
    draft: dict[str, Any] = draw(st.sampled_from(KINDS)) | {"at": draw(DAYS), "who": "kim", "lot": draw(MARKS)}
    if draft["type"] in ("received", "used", "counted"):
        draft |= {"quantity": draw(AMOUNTS), "unit": draw(st.sampled_from(["mL", "L", "g"]))}
    if draft["type"] == "corrected":
        draft["corrects"] = draw(st.integers(1, 12))
    if draft["type"] == "renamed":
        draft["to"] = draw(MARKS)
    return draft


def whatever_is_allowed(sequence: list[dict[str, Any]]) -> Ledger:
    ledger = in_memory()
    for draft in sequence:
        with contextlib.suppress(BadInput):
            record(ledger, [draft])
    return ledger


@settings(max_examples=200)
@given(st.lists(drafts(), max_size=30), st.lists(st.integers(0, 30), max_size=4))
def test_no_sequence_makes_a_negative_amount_and_any_chunking_gives_the_same_shelf(
    sequence: list[dict[str, Any]], cuts: list[int]
) -> None:
    ledger = whatever_is_allowed(sequence)
    events = ledger.documents("stock")
    shelf = fold(events)
    assert ledger.shelf() == shelf, "what was gone on from is what is folded anew"
    assert all(lot.quantity >= 0 for lot in shelf.lots.values())
    chunked = EMPTY
    edges = [0, *sorted(cuts), len(events)]
    for start, end in pairwise(edges):
        chunked = fold(events[start:end], chunked, histories(events[:start]))
    assert chunked == shelf
    assert list(chunked.lots) == list(shelf.lots)


@settings(max_examples=100)
@given(st.lists(drafts(), max_size=30))
def test_on_the_last_day_everything_has_happened(sequence: list[dict[str, Any]]) -> None:
    ledger = whatever_is_allowed(sequence)
    assert ledger.shelf("2027-12-31") == ledger.shelf() == ledger.shelf("2027-12-31", "2027-12-31")
    of_all = histories(ledger.documents("stock"))
    for day in ("2027-01-03", "2027-01-05T12:00"):
        assert ledger.shelf(day) == shelf_on(Shelf(ledger.shelf().lots), day, of_all)
        assert all(lot.quantity >= 0 for lot in ledger.shelf(day).lots.values())
