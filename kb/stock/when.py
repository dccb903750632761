"""Dates and times as the ledger keeps them: canonical text, "2027-03-01" or "2027-03-01T08:30".

Times are those of the clock on the lab's wall, without a zone. Canonical text sorts as time does, so replay needs
no date objects.

>>> moment("2027-03-01 8:30"), moment("2027-03-01")
('2027-03-01T08:30', '2027-03-01')
>>> precedes("2027-03-01", "2027-03-01T08:30"), precedes("2027-02-28T23:00", "2027-03-01")
(False, True)
"""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta

_FORM = re.compile(r"(\d{4}-\d{2}-\d{2})(?:[T ](\d{1,2}):(\d{2})(?::(\d{2})(?:\.0+)?)?)?", re.ASCII)
_EARLIEST, _LATEST = 1970, 2199
#: Days by how far from today they are.
_NEAR = {"yesterday": -1, "today": 0, "tomorrow": 1}
_WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


def moment(words: str | date) -> str:
    """Give `words` as canonical text; ValueError with a sentence where they are no ISO date or date and time."""
    said = words.isoformat() if isinstance(words, date) else str(words).strip()
    found = _FORM.fullmatch(said)
    if found is None:
        raise ValueError(f"'{said}' is not an ISO date (2027-03-01), with a time or not (2027-03-01T08:30)")
    day, hour, minute, second = found.groups()
    clock = "" if hour is None else f"T{hour:0>2}:{minute}" + (f":{second}" if second and second != "00" else "")
    try:
        read = datetime.fromisoformat(day + clock)
    except ValueError:
        raise ValueError(
            f"'{said}' is no day or time of the calendar: months to 12, days as the month has, hours to 23"
        ) from None
    if not _EARLIEST <= read.year <= _LATEST:
        raise ValueError(f"'{said}' is not between {_EARLIEST} and {_LATEST}")
    return day + clock


def as_said(words: str, today: str, past: bool = False) -> str:
    """Read a moment as `moment` does, or a day by its name: the next one of that name, or the `past` one.

    >>> [as_said(words, "2027-03-01") for words in ("yesterday", "tomorrow 8:30", "Monday", "wed", "2027-05-01")]
    ['2027-02-28', '2027-03-02T08:30', '2027-03-08', '2027-03-03', '2027-05-01']
    >>> as_said("friday", "2027-03-01", past=True), as_said("mon", "2027-03-01", past=True)
    ('2027-02-26', '2027-02-22')
    """
    name, _, clock = words.strip().lower().partition(" ")
    days = _NEAR.get(name)
    if days is None:
        week = range(-1, -8, -1) if past else range(1, 8)
        ahead = ((n, _WEEKDAYS[(as_date(today).weekday() + n) % 7]) for n in week)
        days = next((n for n, weekday in ahead if name in (weekday, weekday[:3])), None)
    told = words.strip() if days is None else f"{(as_date(today) + timedelta(days=days)).isoformat()} {clock}".strip()
    if not _FORM.fullmatch(told):
        such = "'friday' or 'yesterday 8:30'" if past else "'monday' or 'tomorrow 8:30'"
        raise ValueError(f"'{words}' is not an ISO date (2027-03-01, 2027-03-01T08:30), and no day such as {such}")
    return moment(told)


def day(words: str | date) -> str:
    """Give `words` as a canonical date without a time."""
    said = moment(words)
    if len(said) > 10:
        raise ValueError(f"'{said}' has a time; a date alone is wanted")
    return said


def precedes(one: str, other: str) -> bool:
    """Tell whether `one` is certainly before `other`; a date without a time stands for any time of its day."""
    if len(one) == 10 or len(other) == 10:
        return one[:10] < other[:10]
    return one < other


def as_date(canonical: str) -> date:
    """Give the day of a canonical moment."""
    return date.fromisoformat(canonical[:10])


def as_datetime(canonical: str) -> datetime:
    """Give a canonical moment as a datetime; a date without a time is the start of its day."""
    return datetime.fromisoformat(canonical)
