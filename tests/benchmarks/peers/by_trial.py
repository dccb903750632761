"""Brute force: every combination, slot by slot; a beginning that is forbidden is not gone on with."""

from __future__ import annotations

import contextlib
import heapq
from collections.abc import Iterator

from tests.benchmarks.generate import COATS, SLOTS, Written
from tests.benchmarks.peers.limited import limited
from tests.benchmarks.peers.reading import Pick, domains_of, holds, joining


def least(written: Written, k: int, limit_s: float) -> list[int] | None:
    with contextlib.suppress(TimeoutError), limited(limit_s):
        return heapq.nsmallest(k, _costs(written))
    return None


def _costs(written: Written) -> Iterator[int]:
    domains = domains_of(written)
    ending = [
        [s for s in joining(written) if max(SLOTS.index(t.slot) for t in s.terms) == number]
        for number in range(len(SLOTS))
    ]
    picks: dict[str, Pick] = {}

    def fill(number: int, cost: int) -> Iterator[int]:
        if number == len(SLOTS):
            yield cost
            return
        slot = SLOTS[number]
        under = picks[COATS[COATS.index(slot) - 1]] if slot in COATS[1:] else None
        for pick in domains[slot]:
            if under is not None and under[1] is None and pick[1] is not None:
                continue
            picks[slot] = pick
            held = [s.points for s in ending[number] if holds(s, picks)]
            if None not in held:
                yield from fill(number + 1, cost + pick[0] + sum(points or 0 for points in held))

    return fill(0, 0)
