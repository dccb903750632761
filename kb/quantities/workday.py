"""How a bench works through a day: its people, ovens and clamps, its hours, and what workday.toml says of the rest."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

from kb.base.errors import BadInput
from kb.quantities.calendar import DAY, Calendar

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


@cache
def defaults() -> Mapping[str, Any]:
    """Read workday.toml."""
    return tomllib.loads(Path(__file__).with_name("workday.toml").read_text(encoding="utf-8"))


class Workday(NamedTuple):
    """What the work is done with, and when people are there. What is left out is the job's or workday.toml's.

    `hours` is "8-16:30", `days` "mon-fri" or "mon,wed,sat". BadInput where either can't be read.
    """

    technicians: int | None = None
    ovens: int | None = None
    oven_holds: int | None = None
    clamps: int | None = None
    hours: str | None = None
    days: str | None = None

    def calendar(self, start: datetime | None) -> Calendar:
        """Give the working hours from the day of `start`; without one, from the first working day of a week."""
        usual = defaults()["hours"]
        opens, closes = _hours(self.hours or f"{usual['opens']}-{usual['closes']}")
        days = _days(self.days or ",".join(usual["days"]))
        return Calendar(opens, closes, days, min(days) if start is None else start.weekday())


def _hours(words: str) -> tuple[int, int]:
    """Give the seconds of the day at which work begins and ends.

    >>> _hours("8-16:30")
    (28800, 59400)
    """
    found = []
    for clock in words.split("-"):
        hour, _, minute = clock.strip().partition(":")
        if not hour.isdecimal() or not (minute or "0").isdecimal() or int(minute or 0) > 59:
            break
        found.append(int(hour) * 3600 + int(minute or 0) * 60)
    if len(found) != 2 or not 0 <= found[0] < found[1] <= DAY:
        raise BadInput("--hours", f"'{words}' is not a span of hours of a day", "such as 8-16:30")
    return found[0], found[1]


def _days(words: str) -> frozenset[int]:
    """Read the working days, Monday being 0.

    >>> sorted(_days("mon-wed,sat"))
    [0, 1, 2, 5]
    """
    found: set[int] = set()
    for piece in words.lower().split(","):
        first, dash, last = (p.strip()[:3] for p in piece.partition("-"))
        if first not in WEEKDAYS or (dash and last not in WEEKDAYS):
            raise BadInput("--days", f"'{words}' are not days of the week", "such as mon-fri or mon,wed,sat")
        begin, end = WEEKDAYS.index(first), WEEKDAYS.index(last if dash else first)
        found.update(day % 7 for day in range(begin, end + 1 if end >= begin else end + 8))
    return frozenset(found)
