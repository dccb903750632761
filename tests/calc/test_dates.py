"""Dates: month ends, order, and the window of GS1 years."""

import calendar
import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.calc.dates import add_days, add_months, expiry, gs1_date, gs1_year

days = st.dates(datetime.date(1990, 1, 1), datetime.date(2190, 12, 31))


@given(days, st.integers(0, 600))
def test_months_keep_the_day_or_end_with_the_month(start: datetime.date, months: int) -> None:
    end = add_months(start, months)
    assert (end.year - start.year) * 12 + end.month - start.month == months
    assert end.day == min(start.day, calendar.monthrange(end.year, end.month)[1])


@given(days, days, st.integers(0, 100))
def test_what_was_made_later_never_expires_earlier(a: datetime.date, b: datetime.date, months: int) -> None:
    first, second = sorted((a, b))
    assert add_months(first, months) <= add_months(second, months)


@pytest.mark.parametrize(
    ("start", "months", "end"),
    [("2026-08-31", 6, "2027-02-28"), ("2027-08-31", 6, "2028-02-29"), ("2028-02-29", 12, "2029-02-28")],
)
def test_month_ends(start: str, months: int, end: str) -> None:
    assert expiry(made=datetime.date.fromisoformat(start), months=months)["date"] == end


def test_twice_a_month_is_not_two_months() -> None:
    # 31 January by one month, twice, is 28 March: lives are added once, to the day that they start from.
    start = datetime.date(2027, 1, 31)
    assert add_months(add_months(start, 1), 1) == datetime.date(2027, 3, 28)
    assert add_months(start, 2) == datetime.date(2027, 3, 31)


@given(st.integers(0, 99), st.integers(1950, 2150))
def test_gs1_years_lie_49_back_to_50_ahead(yy: int, year: int) -> None:
    found = gs1_year(yy, year)
    assert found % 100 == yy
    assert -49 <= found - year <= 50


@given(days, st.booleans())
def test_gs1_dates_are_read_back(day: datetime.date, month_only: bool) -> None:
    found = gs1_date(f"{day:%y%m}{'00' if month_only else f'{day:%d}'}", today=day)
    last = calendar.monthrange(day.year, day.month)[1]
    assert found == (day.replace(day=last) if month_only else day)


@pytest.mark.parametrize("digits", ["261301", "260230", "260001", "26123", "2612311", "26-1-1", "", "²61231"])
def test_what_is_no_gs1_date_is_refused(digits: str) -> None:
    with pytest.raises(ValueError, match=r"six digits|no day of the calendar"):
        gs1_date(digits, datetime.date(2026, 6, 1))


def test_the_29th_of_february_depends_on_the_century() -> None:
    assert gs1_date("000200", datetime.date(1999, 1, 1)) == datetime.date(2000, 2, 29)
    assert gs1_date("000200", datetime.date(2099, 1, 1)) == datetime.date(2100, 2, 28)


def test_no_days_are_no_life() -> None:
    day = datetime.date(2026, 12, 31)
    assert add_days(day, 0) == day
    assert expiry(opened=day, days=0, today=day) == {"date": "2026-12-31", "expired": False}
