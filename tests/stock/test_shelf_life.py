"""How long a lot may be used. The facts are invented classes: their figures test the arithmetic, not the trade."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from kb.stock.lots import Logged, Lot
from kb.stock.shelf_life import STATES, life

SEALED = {"shelf_life_months": 12, "opened_life_days": 30, "thawed_life_h": 24, "mixed_life_min": 45}


def lot(**more: Any) -> Lot:
    given: dict[str, Any] = {"lot": "A", "item": "x", "quantity": Decimal(5), "unit": "g", "since": "2027-01-10"}
    return Lot(**(given | more))


CASES: dict[str, tuple[dict[str, Any], dict[str, Any], str, tuple[str | None, str, str]]] = {
    "the date on the container": (
        {"expires": "2027-12-31", "made": "2027-01-01"},
        SEALED,
        "2027-06-01",
        ("2027-12-31", "date on the container", "in-date"),
    ),
    "its last day counts": (
        {"expires": "2027-12-31"},
        {},
        "2027-12-31",
        ("2027-12-31", "date on the container", "expires-soon"),
    ),
    "the day after doesn't": (
        {"expires": "2027-12-31"},
        {},
        "2028-01-01",
        ("2027-12-31", "date on the container", "expired"),
    ),
    "nor does its first minute": (
        {"expires": "2027-12-31"},
        {},
        "2028-01-01T00:00",
        ("2027-12-31", "date on the container", "expired"),
    ),
    "30 days before is soon": (
        {"expires": "2027-12-31"},
        {},
        "2027-12-01",
        ("2027-12-31", "date on the container", "expires-soon"),
    ),
    "31 days before isn't": (
        {"expires": "2027-12-31"},
        {},
        "2027-11-30",
        ("2027-12-31", "date on the container", "in-date"),
    ),
    "the class's life from its making": (
        {"made": "2027-08-31"},
        {"shelf_life_months": 6},
        "2027-09-01",
        ("2028-02-29", "shelf life, from making", "in-date"),
    ),
    "from its receipt, where making isn't known": (
        {"received": "2027-01-10"},
        SEALED,
        "2027-06-01",
        ("2028-01-10", "shelf life, from receipt", "in-date"),
    ),
    "opened is shorter": (
        {"expires": "2027-12-31", "opened": "2027-03-01"},
        SEALED,
        "2027-04-01",
        ("2027-03-31", "opened life", "opened-life-ended"),
    ),
    "opened late in its sealed life": (
        {"expires": "2027-12-31", "opened": "2027-12-20"},
        SEALED,
        "2028-01-02",
        ("2027-12-31", "date on the container", "expired"),
    ),
    "thawed is shorter still": (
        {"expires": "2027-12-31", "opened": "2027-03-01", "thawed": "2027-03-01T08:30"},
        SEALED,
        "2027-03-01T20:00",
        ("2027-03-02T08:30", "thawed life", "expires-soon"),
    ),
    "its last minute counts": (
        {"thawed": "2027-03-01T08:30"},
        SEALED,
        "2027-03-02T08:30",
        ("2027-03-02T08:30", "thawed life", "expires-soon"),
    ),
    "the minute after doesn't": (
        {"thawed": "2027-03-01T08:30"},
        SEALED,
        "2027-03-02T08:31",
        ("2027-03-02T08:30", "thawed life", "opened-life-ended"),
    ),
    "some of that day is left": (
        {"thawed": "2027-03-01T08:30"},
        SEALED,
        "2027-03-02",
        ("2027-03-02T08:30", "thawed life", "expires-soon"),
    ),
    "an hour of the last day is earlier than that day": (
        {"expires": "2027-03-02", "thawed": "2027-03-01T08:30"},
        SEALED,
        "2027-03-01",
        ("2027-03-02T08:30", "thawed life", "expires-soon"),
    ),
    "a thaw without a time counts from the day's start": (
        {"thawed": "2027-03-01"},
        SEALED,
        "2027-03-02T00:01",
        ("2027-03-02T00:00", "thawed life", "opened-life-ended"),
    ),
    "mixed is the shortest": (
        {"thawed": "2027-03-01T08:30", "mixed": "2027-03-01T09:00"},
        SEALED,
        "2027-03-01T09:46",
        ("2027-03-01T09:45", "mixed life", "opened-life-ended"),
    ),
    "the pot life stands for it": (
        {"mixed": "2027-03-01T09:00"},
        {"pot_life_min": 8},
        "2027-03-01T09:08",
        ("2027-03-01T09:08", "mixed life", "expires-soon"),
    ),
    "nothing known": ({}, {}, "2027-03-01", (None, "", "in-date")),
    "a test gives a new last day": (
        {"expires": "2027-01-31", "requalified": "2027-02-10", "requalified_until": "2027-08-10", "accepted": True},
        SEALED,
        "2027-03-01",
        ("2027-08-10", "test of 2027-02-10", "in-date"),
    ),
    "and takes the place of the opened life before it": (
        {"opened": "2027-01-05", "requalified": "2027-02-10", "requalified_until": "2027-08-10"},
        SEALED,
        "2027-03-01",
        ("2027-08-10", "test of 2027-02-10", "in-date"),
    ),
    "not of an opening after it": (
        {"opened": "2027-02-11", "requalified": "2027-02-10", "requalified_until": "2027-08-10"},
        SEALED,
        "2027-03-01",
        ("2027-03-13", "opened life", "expires-soon"),
    ),
    "nor, to be safe, of one on the same day": (
        {"opened": "2027-02-10", "requalified": "2027-02-10", "requalified_until": "2027-08-10"},
        SEALED,
        "2027-03-01",
        ("2027-03-12", "opened life", "expires-soon"),
    ),
    "warm storage takes days off": (
        {
            "expires": "2027-12-31",
            "logged": (Logged("2027-02-01", "2027-02-04", 3.2), Logged("2027-03-01", "2027-03-02", 0.5)),
        },
        {},
        "2027-04-01",
        ("2027-12-27", "date on the container", "in-date"),
    ),
    "from the opened life too, after the opening": (
        {
            "expires": "2027-12-31",
            "opened": "2027-02-10",
            "logged": (Logged("2027-02-01", "2027-02-04", 9.0), Logged("2027-02-12", "2027-02-13", 2.0)),
        },
        SEALED,
        "2027-02-20",
        ("2027-03-10", "opened life", "expires-soon"),
    ),
    "not from a test's date, if it came before": (
        {
            "requalified": "2027-02-10",
            "requalified_until": "2027-08-10",
            "logged": (Logged("2027-02-01", "2027-02-04", 9.0),),
        },
        {},
        "2027-03-01",
        ("2027-08-10", "test of 2027-02-10", "in-date"),
    ),
    "an excursion comes before all of that": (
        {"expires": "2027-12-31", "excursion": "-3 degC"},
        {},
        "2027-03-01",
        ("2027-12-31", "date on the container", "storage-excursion"),
    ),
    "kept too warm": (
        {"expires": "2027-12-31", "storage_c": 22.0},
        {"storage_c": [2, 8]},
        "2027-03-01",
        ("2027-12-31", "date on the container", "storage-excursion"),
    ),
    "at its very limit": (
        {"expires": "2027-12-31", "storage_c": 8.0},
        {"storage_c": [2, 8]},
        "2027-03-01",
        ("2027-12-31", "date on the container", "in-date"),
    ),
    "kept too warm, and released": (
        {"expires": "2027-12-31", "storage_c": 22.0, "accepted": True},
        {"storage_c": [2, 8]},
        "2027-03-01",
        ("2027-12-31", "date on the container", "in-date"),
    ),
    "once opened, the opened life counts": (
        {"expires": "2027-12-31", "storage_c": 22.0, "opened": "2027-03-01"},
        {"storage_c": [2, 8], "opened_life_days": 60},
        "2027-03-01",
        ("2027-04-30", "opened life", "in-date"),
    ),
    "condemned": (
        {"expires": "2027-12-31", "condemned": "gelled", "excursion": "-3 degC"},
        {},
        "2027-03-01",
        ("2027-12-31", "date on the container", "condemned"),
    ),
    "suspected": (
        {"expires": "2027-12-31", "held": "cloudy"},
        {},
        "2027-03-01",
        ("2027-12-31", "date on the container", "on-hold"),
    ),
    "empty before all": (
        {"expires": "2027-01-31", "condemned": "gelled", "quantity": Decimal(0)},
        {},
        "2027-03-01",
        ("2027-01-31", "date on the container", "empty"),
    ),
}


@pytest.mark.parametrize("case", CASES.values(), ids=CASES.keys())
def test_life(case: tuple[dict[str, Any], dict[str, Any], str, tuple[str | None, str, str]]) -> None:
    given, facts, on, expected = case
    found = life(lot(**given), facts, on)
    assert (found.usable_until, found.limited_by, found.state) == expected


def test_every_state_is_met() -> None:
    assert {expected[2] for *_, expected in CASES.values()} == set(STATES)


@pytest.mark.parametrize(
    ("given", "facts", "note"),
    [
        ({"opened": "2027-03-01", "expires": "2027-12-31"}, {}, "how long it keeps once opened is not known"),
        ({"thawed": "2027-03-01", "expires": "2027-12-31"}, {}, "how long it keeps once thawed is not known"),
        ({"mixed": "2027-03-01", "expires": "2027-12-31"}, {}, "how long it keeps once mixed is not known"),
        ({}, SEALED, "how long it keeps sealed is not known"),
        ({"made": "2027-01-01"}, {}, "how long it keeps sealed is not known"),
        (
            {"received": "2027-01-01"},
            SEALED,
            "its making is not known: its life was counted from its receipt, which is late",
        ),
        (
            {"made": "2027-01-01", "expires": "2028-06-30"},
            SEALED,
            "the date on the container is beyond the class's 12 months from its making: check it",
        ),
        (
            {"expires": "2027-12-31", "logged": (Logged("2027-02-01", "2027-02-04", None),)},
            {},
            "what its logged storage cost is not known: the class's sensitivity to temperature isn't",
        ),
        (
            {"expires": "2027-12-31", "opened": "2027-01-11", "storage_c": 22.0},
            {"storage_c": [2, 8], "opened_life_days": 60},
            "kept at 22 degC, outside 2 to 8 degC",
        ),
        (
            {"expires": "2027-12-31", "used": (("2027-01-11", "2"), ("2027-01-15", "1"))},
            {"opened_life_days": 60},
            "it was used on 2027-01-11, and no opening of it is recorded: its opened life may run since then",
        ),
    ],
)
def test_what_is_not_known_is_said(given: dict[str, Any], facts: dict[str, Any], note: str) -> None:
    assert life(lot(**given), facts, "2027-02-01").notes == (note,)


@pytest.mark.parametrize(
    ("given", "facts"),
    [
        ({"opened": "2027-01-11"}, {"opened_life_days": 60}),
        ({"mixed": "2027-01-11"}, {"opened_life_days": 60, "pot_life_min": 60}),
        ({"requalified": "2027-01-12", "requalified_until": "2027-06-30"}, {"opened_life_days": 60}),
        ({}, {}),
    ],
)
def test_a_use_says_nothing_of_an_opening_that_is_known_or_counts_for_nothing(
    given: dict[str, Any], facts: dict[str, Any]
) -> None:
    used = {"expires": "2027-12-31", "used": (("2027-01-11", "2"),)}
    assert not any("no opening" in note for note in life(lot(**used, **given), facts, "2027-02-01").notes)


def test_nothing_is_said_where_all_is_known() -> None:
    assert life(lot(made="2027-01-01", expires="2027-12-31", opened="2027-02-01"), SEALED, "2027-02-02").notes == ()


def test_a_house_item_s_own_limits_rule() -> None:
    """The facts of a house item are the class's with the data sheet's in their place: shorter ones shorten it."""
    generic = {"shelf_life_months": 12, "opened_life_days": 30}
    one = lot(made="2027-01-01", opened="2027-02-01")
    assert life(one, generic, "2027-02-02").usable_until == "2027-03-03"
    assert life(one, generic | {"opened_life_days": 7}, "2027-02-02").usable_until == "2027-02-08"
