"""Working hours of a week, in seconds: when a piece of work may begin."""

from __future__ import annotations

from typing import NamedTuple

DAY = 86_400


class Calendar(NamedTuple):
    """Working hours in seconds of the day, and working days; `weekday` is that of the first day (Monday is 0)."""

    opens: int = 0
    closes: int = DAY
    days: frozenset[int] = frozenset(range(7))
    weekday: int = 0

    def window(self, time: int) -> tuple[int, int]:
        """Give the working hours that `time` is in, or else the next ones; days that touch at midnight are one."""
        day = time // DAY
        while not self._works(day) or day * DAY + self.closes <= time:
            day += 1
        last = day
        if self.opens == 0 and self.closes == DAY:
            while self._works(last + 1) and last < day + 7:
                last += 1
        return day * DAY + self.opens, last * DAY + self.closes

    def earliest(self, time: int, need: int) -> int:
        """Give the first moment from `time` on from which `need` seconds of work fit into working hours."""
        while True:
            opens, closes = self.window(time)
            start = max(time, opens)
            if start + need <= closes:
                return start
            time = closes

    @property
    def longest(self) -> int:
        """The longest piece of work that fits at all."""
        spans = (self.window(day * DAY) for day in range(7))
        return max(closes - opens for opens, closes in spans)

    def _works(self, day: int) -> bool:
        return (self.weekday + day) % 7 in self.days
