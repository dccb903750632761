"""The fold, its refusals, and corrections; then any sequence of events at all."""

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
from kb.stock.admission import record
from kb.stock.ledger import EMPTY, Refused, fold
from kb.stock.log.memory import MemoryStore
from kb.stock.shelf import lot_of
from tests.stock.factory import event, received, used


def store_of(*drafts: dict[str, Any]) -> MemoryStore:
    store = MemoryStore()
    for draft in drafts:
        record(store, [draft])
    return store


def lot(*drafts: dict[str, Any]) -> Any:
    return lot_of(store_of(*drafts), "A-17")[0]


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


REFUSED = {
    "used of nothing": ([], used(), "there is no such lot; receive it first"),
    "received twice": ([received()], received(), "there is a lot of that name already"),
    "more than is left": ([received(quantity="2")], used(quantity="2.000000001"), "and 2 mL are left"),
    "litres of grams": ([received(unit="g")], used(unit="mL"), "mL can't be converted to g; give the amount in g"),
    "opened twice": ([received(), event("opened")], event("opened"), "was opened already, 2027-03-03"),
    "thawed twice": ([received(), event("thawed")], event("thawed"), "was thawed already"),
    "mixed twice": ([received(), event("mixed")], event("mixed"), "was mixed already"),
    "opened when empty": ([received(quantity="1"), used()], event("opened"), "is empty; count it"),
    "time runs back": ([received()], used(at="2027-02-28"), "2027-02-28 is before the lot's last event"),
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
    "correction below zero": (
        [received(quantity="5"), used(quantity="5")],
        event("corrected", corrects=1, change={"quantity": "4"}, reason="r"),
        "5 mL asked for, and 4 mL are left",
    ),
    "void receipt of a used lot": (
        [received(), used()],
        event("corrected", corrects=1, void=True, reason="r"),
        "there is no such lot",
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
    "expires before made": (
        [],
        received(made="2027-01-01", expires="2026-01-01"),
        "expires: 2026-01-01 is before it was made",
    ),
    "no reason given": ([received()], event("condemned"), "reason: is missing"),
    "an empty name": ([], received(who=" "), "who: may not be empty"),
    "not a number": ([], received(quantity="1,5"), "'1,5' is not a number; write it with a decimal point"),
    "not finite": ([], received(quantity="NaN"), "'NaN' is not a number"),
    "too large": ([], received(quantity="1000000001"), "is beyond 1000000000"),
    "too fine": ([], received(quantity="0.0000000001"), "more than 9 decimals"),
    "no such day": ([], received(at="2027-02-29"), "is no day or time of the calendar"),
    "another calendar": ([], received(at="01/03/2027"), "is not an ISO date"),
    "an unknown type": ([], {"type": "usd"}, "did you mean 'used'?"),
}


@pytest.mark.parametrize("case", REFUSED.values(), ids=REFUSED.keys())
def test_refused(case: tuple[list[dict[str, Any]], dict[str, Any], str]) -> None:
    before, draft, said = case
    store = store_of(*before)
    with pytest.raises(BadInput) as refused:
        record(store, [draft])
    assert said in str(refused.value)
    assert "\n" not in str(refused.value)
    assert len(store.events()) == len(before)


def test_a_correction_counts_from_the_start() -> None:
    """The first use was 50 and not 500: the second, refused before, is then possible."""
    store = store_of(received(), used(quantity="500"))
    with pytest.raises(Refused):
        record(store, [used(quantity="100")])
    record(store, [event("corrected", corrects=2, change={"quantity": "50"}, reason="a nought too many")])
    record(store, [used(quantity="100", at="2027-03-04")])
    assert lot_of(store, "A-17")[0].quantity == 350


def test_corrections_add_up_and_a_voided_event_can_come_back() -> None:
    store = store_of(received(), used(quantity="10"))
    record(store, [event("corrected", corrects=2, change={"quantity": "20"}, reason="r")])
    record(store, [event("corrected", corrects=2, void=True, change={"at": "2027-03-02T10:00"}, reason="r")])
    assert lot_of(store, "A-17")[0].quantity == 500
    record(store, [event("corrected", corrects=2, void=False, reason="r")])
    assert lot_of(store, "A-17")[0].quantity == 480
    assert lot_of(store, "A-17")[0].last_at == "2027-03-02T10:00"


def test_a_field_can_be_taken_back_to_unknown() -> None:
    store = store_of(received(expires="2027-09-30"))
    record(store, [event("corrected", corrects=1, change={"expires": None}, reason="read from another bottle")])
    assert lot_of(store, "A-17")[0].expires is None


def test_a_decision_holds_until_the_lot_is_moved_or_leaves_its_limits_again() -> None:
    logged: dict[str, Any] = {"location": "fridge", "since": "2027-03-01", "hours": 24, "low_c": 2, "high_c": 30}
    warm = event("temperature-logged", until="2027-03-02", excursion="30 degC", **logged)
    assert lot(received(), warm).excursion == "30 degC"
    released = lot(received(), warm, event("released", reason="an hour only"))
    assert (released.excursion, released.accepted) == ("", True)
    assert not lot(received(), event("released", reason="r"), event("moved", location="bench")).accepted
    again = lot(received(), event("released", reason="r"), warm)
    assert (again.excursion, again.accepted) == ("30 degC", False)


# -- any sequence of events

MARKS = st.sampled_from(["A", "B", "ü 3"])
AMOUNTS = st.decimals(min_value="0.001", max_value="300", places=3).map(str)
DAYS = st.dates(date(2027, 1, 1), date(2027, 1, 9)).map(date.isoformat)
KINDS: list[dict[str, Any]] = [
    {"type": "received", "item": "acetone", "expires": "2028-01-31", "location": "shelf"},
    {"type": "received", "item": "ethanol", "storage_c": 5.5},
    {"type": "used", "job": "J-1"},
    {"type": "used"},
    {"type": "used"},
    {"type": "counted"},
    {"type": "opened"},
    {"type": "thawed"},
    {"type": "moved", "location": "bench; 2"},
    {"type": "requalified", "until": "2029-01-01", "test": "T", "reason": 'as "new"'},
    {"type": "condemned", "reason": "gelled\tin the jar"},
    {"type": "corrected", "void": True, "reason": "r"},
    {"type": "corrected", "void": False, "reason": "r"},
    {"type": "corrected", "change": {"quantity": "7.5"}, "reason": "r"},
]


@st.composite
def drafts(draw: st.DrawFn) -> dict[str, Any]:
    draft: dict[str, Any] = draw(st.sampled_from(KINDS)) | {"at": draw(DAYS), "who": "kim", "lot": draw(MARKS)}
    if draft["type"] in ("received", "used", "counted"):
        draft |= {"quantity": draw(AMOUNTS), "unit": draw(st.sampled_from(["mL", "L", "g"]))}
    if draft["type"] == "corrected":
        draft["corrects"] = draw(st.integers(1, 12))
    return draft


def whatever_is_allowed(sequence: list[dict[str, Any]]) -> MemoryStore:
    store = MemoryStore()
    for draft in sequence:
        with contextlib.suppress(BadInput):
            record(store, [draft])
    return store


@settings(max_examples=200, deadline=None)
@given(st.lists(drafts(), max_size=30), st.lists(st.integers(0, 30), max_size=4))
def test_no_sequence_makes_a_negative_amount_and_any_chunking_gives_the_same_shelf(
    sequence: list[dict[str, Any]], cuts: list[int]
) -> None:
    events = whatever_is_allowed(sequence).events()
    shelf = fold(events)
    assert all(lot.quantity >= 0 for lot in shelf.lots.values())
    chunked = EMPTY
    edges = [0, *sorted(cuts), len(events)]
    for start, end in pairwise(edges):
        chunked = fold(events[start:end], chunked)
    assert chunked == shelf
    assert list(chunked.lots) == list(shelf.lots)
