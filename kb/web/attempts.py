"""Guesses at the door are few: who was wrong some times waits, whatever comes next."""

from __future__ import annotations

import math
import time
from collections import OrderedDict
from collections.abc import Callable
from typing import Final

from kb.web.problems import Problem

#: So many wrong words in so many seconds; a person who mistypes stays below, a program that guesses doesn't.
MOST_WRONG: Final = 5
WINDOW_S: Final = 60.0
#: So many addresses are remembered, those that were wrong last.
REMEMBERED: Final = 10_000


class Attempts:
    """The wrong words of each address. Used on the server's one loop only, or by tests."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._wrong: OrderedDict[str, list[float]] = OrderedDict()

    def allow(self, address: str) -> None:
        """Raise Problem 429 where the address was wrong too often of late."""
        wrong = self._lately(address)
        if len(wrong) >= MOST_WRONG:
            wait = math.ceil(WINDOW_S - (self._clock() - wrong[0]))
            said = f"was wrong {len(wrong)} times within {WINDOW_S:g} s"
            raise Problem(429, "too-many", "token", said, f"wait {wait} s, and look it up meanwhile", retry_after=wait)

    def wrong(self, address: str) -> None:
        """Remember that a wrong word came from there."""
        self._wrong[address] = [*self._lately(address), self._clock()]
        self._wrong.move_to_end(address)
        while len(self._wrong) > REMEMBERED:
            self._wrong.popitem(last=False)

    def _lately(self, address: str) -> list[float]:
        begun = self._clock() - WINDOW_S
        return [moment for moment in self._wrong.get(address, ()) if moment > begun]
