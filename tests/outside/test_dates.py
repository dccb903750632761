"""Dates: GS1 (parts of 12, and 17), months, and first expired first out."""

import datetime
import re
from typing import Any

import pytest

from kb.base.errors import BadInput
from kb.calc import run
from kb.calc.dates import gs1_year
from tests.outside.published import Entry, cases, entry

#: The century depends on the day of reading: frozen.
TODAY = "2026-06-01"


def gs1(digits: str, today: str = TODAY) -> str:
    return str(run("expiry", {"gs1": digits, "today": today})["result"]["date"])


@pytest.mark.parametrize("known", cases(17, "gs1-00"))
def test_day_00_is_the_last_of_the_month(known: Entry) -> None:
    found = gs1(known.inputs["AI17"])
    assert found == known.expected, known.against(found)


@pytest.mark.parametrize("known", cases(17, "gs1-century"))
def test_century_by_the_year_of_reading(known: Entry) -> None:
    year, yy = known.inputs["reference_year"], known.inputs["YY"]
    assert gs1_year(yy, year) == known.expected, known.against(gs1_year(yy, year))
    found = gs1(f"{yy:02}0615", today=f"{year}-01-01")
    assert found == f"{known.expected}-06-15", known.against(found)


@pytest.mark.parametrize(
    ("known", "digits"),
    [(entry("gs1-issue113"), "160200"), (entry("gs1-doc"), "210526"), (entry("gs1-c1"), "150129")],
    ids=["gs1-issue113", "gs1-doc", "gs1-c1"],
)
def test_dates_in_element_strings(known: Entry, digits: str) -> None:
    """The date part alone: splitting the string is the scanner's business."""
    ai = next(ai for ai in ("17", "15") if ai in known.expected)
    assert ai + digits in known.inputs["raw"], known.against(digits)
    assert gs1(digits) == known.expected[ai], known.against(gs1(digits))


@pytest.mark.parametrize("known", cases(12, "gs1-bad"))
def test_days_that_do_not_exist_are_refused(known: Entry) -> None:
    with pytest.raises(BadInput, match=re.escape("is no day of the calendar")):
        gs1(known.inputs["raw"].removeprefix("17"))


def test_day_00_is_used_after_the_15th() -> None:
    known = entry("fefo-00-sort")
    found = sorted(gs1(digits) for digits in known.inputs["expiries"])
    assert found == known.expected, known.against(found)


def test_months_clamp_to_the_end_of_the_month() -> None:
    known = entry("add-months")
    found = run("expiry", {"opened": known.inputs["opened"], "months": known.inputs["months"]})["result"]["date"]
    assert found == known.expected, known.against(found)


def test_week_dates_are_iso_8601() -> None:
    known = entry("iso-week-2026-W53-7")
    found = run("expiry", {"made": known.inputs["iso_week_date"], "days": 0})["result"]["date"]
    assert found == known.expected, known.against(found)


@pytest.mark.parametrize(("today", "usable"), [("2026-12-31", True), ("2027-01-01", False)])
def test_the_last_day_counts(today: str, usable: bool) -> None:
    known = entry("iso-expiry-inclusive")
    given: dict[str, Any] = {"made": known.inputs["expiry"], "days": 0, "today": today}
    found = run("expiry", given)["result"]
    assert (not found["expired"]) is usable, known.against(found)
    assert datetime.date.fromisoformat(found["date"]).isoformat() == known.inputs["expiry"], known.against(found)
