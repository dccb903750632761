"""Brute force: every combination, slot by slot; a beginning that is forbidden is not gone on with."""

from __future__ import annotations

import contextlib
import heapq
from collections.abc import Iterator
from math import prod

from tests.benchmarks.generate import COATS, SLOTS, Written
from tests.benchmarks.peers.limited import limited
from tests.benchmarks.peers.reading import Pick, domains_of, holds, joining


def least(written: Written, k: int, limit_s: float) -> list[int] | None:
    with contextlib.suppress(TimeoutError), limited(limit_s):
        return heapq.nsmallest(k, _costs(written, k))
    return None


def _costs(written: Written, k: int) -> Iterator[int]:
    """The points of every chain, once for each choice of like items, `k` times at the most."""
    domains = domains_of(written)
    ending = [
        [s for s in joining(written) if max(SLOTS.index(t.slot) for t in s.terms) == number]
        for number in range(len(SLOTS))
    ]
    picks: dict[str, Pick] = {}

    def fill(number: int, cost: int) -> Iterator[int]:
        if number == len(SLOTS):
            yield from [cost] * min(k, prod(pick.members for pick in picks.values()))
            return
        slot = SLOTS[number]
        under = picks[COATS[COATS.index(slot) - 1]] if slot in COATS[1:] else None
        for pick in domains[slot]:
            if under is not None and under.facets is None and pick.facets is not None:
                continue
            picks[slot] = pick
            held = [s.points for s in ending[number] if holds(s, picks)]
            if None not in held:
                yield from fill(number + 1, cost + pick.points + sum(points or 0 for points in held))

    return fill(0, 0)
