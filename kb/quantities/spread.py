"""Low and high beside a figure: what the day takes if yields and hands turn out otherwise.

A seeded simulation, so that the same job gives the same range. It draws how many attempts the good ones really take
(negative binomial) and, for each use, how freely this pair of hands uses the thing (triangular, from least to most met,
peak at the amount itself).
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from itertools import accumulate
from math import ceil, exp, lgamma, log, log1p, sqrt
from random import Random

RUNS = 400
_LOW, _HIGH = 0.1, 0.9
#: Standard deviations of the number of attempts to either side that are drawn from; beyond lies less than 1e-9.
_REACH = 9


def attempts_drawn(good: int, share: float, seed: str, runs: int = RUNS) -> list[int]:
    """Tell how many attempts it takes until `good` have come out well, each with probability `share`: `runs` draws.

    Source: negative binomial distribution (arithmetic).

    >>> attempts_drawn(20, 1.0, "any", runs=3)
    [20, 20, 20]
    """
    if share >= 1:
        return [good] * runs
    mean, deviation = good / share, sqrt(good * (1 - share)) / share
    first = max(good, int(mean - _REACH * deviation))
    # An exponential tail (one good one needed, low yield) reaches further than a bell.
    last = ceil(mean + _REACH * deviation + 20 / -log1p(-share))
    weights = (
        exp(lgamma(n) - lgamma(good) - lgamma(n - good + 1) + good * log(share) + (n - good) * log1p(-share))
        for n in range(first, last + 1)
    )
    running = list(accumulate(weights))
    draw = Random(seed)
    return [first + bisect_left(running, draw.random() * running[-1]) for _ in range(runs)]


def factors_drawn(spread: tuple[float, float], seed: str, runs: int = RUNS) -> list[float]:
    """Tell how many times the amount is used: `runs` draws from least to most, likeliest 1.

    >>> factors_drawn((1.0, 1.0), "any", runs=2)
    [1.0, 1.0]
    """
    low, high = spread
    if low == high:
        return [1.0] * runs
    draw = Random(seed)
    return [draw.triangular(low, high, 1.0) for _ in range(runs)]


def share_of(values: Sequence[float], share: float) -> float:
    """Find the least of `values` that all but 1 - `share` of them stay within.

    >>> share_of(range(101), 0.95)
    95
    """
    ordered = sorted(values)
    return ordered[ceil(share * (len(ordered) - 1))]


def range_of(values: Sequence[float]) -> tuple[float, float]:
    """Give the values that a tenth of `values` fall short of, and that a tenth go beyond.

    >>> range_of(range(11))
    (1, 9)
    """
    ordered = sorted(values)
    last = len(ordered) - 1
    return ordered[round(_LOW * last)], ordered[round(_HIGH * last)]
