"""Last days of use: lives in months or days, and the dates in GS1 bar codes."""

from __future__ import annotations

import calendar
import datetime
from typing import Final

from kb.calc import spec
from kb.calc.spec import Input, Result, Spec

_BEYOND = "the date lies beyond the calendar (years 1 to 9999)"

SPECS: Final = {
    "expiry": Spec(
        inputs={
            "made": Input("date of making; either this, opened or gs1", spec.date),
            "opened": Input("date of opening", spec.date),
            "months": Input("life in months; either this or days", spec.whole(at_most=1200)),
            "days": Input("life in days", spec.whole(at_most=36_525)),
            "gs1": Input("six digits in quotes, year, month, day; day 00 is the month's last", spec.text),
            "today": Input("date of reading: gs1 needs it to know the century", spec.date),
        },
        results={
            "date": "last day of use, ISO 8601",
            "expired": "true from the day after; only where today is given",
        },
        example={"gs1": "261200", "today": "2026-06-01"},
        source="months end on the same day, or on the month's last (common practice); "
        "GS1 General Specifications: day 00, century by the year of reading",
        sources=("gs1-general-specifications",),
    )
}


def expiry(
    made: datetime.date | None = None,
    opened: datetime.date | None = None,
    months: int | None = None,
    days: int | None = None,
    gs1: str | None = None,
    today: datetime.date | None = None,
) -> Result:
    """Find the last day of use, as ISO 8601 text; the item may be used on that day, and not after.

    Either `made` or `opened` with either `months` or `days`; or `gs1`, read on the day `today`. ValueError for any
    other combination, and for dates that don't exist.

    Source: GS1 General Specifications (recalled; the example 130200 as reproduced in an open library).

    >>> expiry(opened=datetime.date(2026, 8, 31), months=6)
    {'date': '2027-02-28'}
    >>> expiry(gs1="261200", today=datetime.date(2026, 12, 31))
    {'date': '2026-12-31', 'expired': False}
    """
    start = made or opened
    if (made, opened, gs1).count(None) != 2:
        raise ValueError("give exactly one of made, opened and gs1")
    if gs1 is not None:
        if months is not None or days is not None:
            raise ValueError("gs1 holds the date itself: give no months or days with it")
        if today is None:
            raise ValueError("gs1 has two digits for the year: give today, by which the century is known")
        last = gs1_date(gs1, today)
    else:
        assert start is not None
        if (months is None) == (days is None):
            raise ValueError("give either months or days")
        last = add_months(start, months) if months is not None else add_days(start, days or 0)
    found: dict[str, str | bool] = {"date": last.isoformat()}
    if today is not None:
        found["expired"] = today > last
    return found


def add_months(start: datetime.date, months: int) -> datetime.date:
    """Find the same day of the month so many months on, or that month's last day where it is shorter.

    >>> add_months(datetime.date(2027, 11, 30), 3)
    datetime.date(2028, 2, 29)
    """
    year, month = divmod(start.year * 12 + start.month - 1 + months, 12)
    if not datetime.MINYEAR <= year <= datetime.MAXYEAR:
        raise ValueError(_BEYOND)
    return datetime.date(year, month + 1, min(start.day, calendar.monthrange(year, month + 1)[1]))


def add_days(start: datetime.date, days: int) -> datetime.date:
    """Find the day so many days on.

    >>> add_days(datetime.date(2027, 2, 28), 1)
    datetime.date(2027, 3, 1)
    """
    try:
        return start + datetime.timedelta(days=days)
    except OverflowError:
        raise ValueError(_BEYOND) from None


def gs1_date(digits: str, today: datetime.date) -> datetime.date:
    """Read the date of a GS1 element string (`YYMMDD`); day 00 is the last of the month. ValueError where it is none.

    >>> gs1_date("130200", datetime.date(2026, 6, 1))
    datetime.date(2013, 2, 28)
    """
    if len(digits) != 6 or not (digits.isascii() and digits.isdecimal()):
        raise ValueError(f"{spec.shown(digits)} is not six digits: year, month, day, such as '261231'")
    year, month, day = gs1_year(int(digits[:2]), today.year), int(digits[2:4]), int(digits[4:])
    try:
        return datetime.date(year, month, day or calendar.monthrange(year, month)[1])
    except ValueError:
        raise ValueError(f"'{digits}' is no day of the calendar") from None


def gs1_year(yy: int, year_of_reading: int) -> int:
    """Complete a year of two digits, as of the year in which it is read: from 49 years back to 50 ahead.

    >>> gs1_year(76, 2026), gs1_year(77, 2026), gs1_year(1, 2051)
    (2076, 1977, 2101)
    """
    century, this = divmod(year_of_reading, 100)
    difference = yy - this
    if difference >= 51:
        century -= 1
    elif difference <= -50:
        century += 1
    return century * 100 + yy
