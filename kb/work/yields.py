"""The yield of a chain, learned from what was recorded: a beta distribution that each installation moves.

The prior is data (yields.toml). Both parameters are whole numbers, so that the distribution function is a binomial
sum and needs no special functions. Source: conjugacy of the beta and the binomial distribution (arithmetic).

>>> found = learned(153, 7, expected=0.95)
>>> found.good, found.bad, round(found.mean, 4), round(found.low, 3), round(found.high, 3)
(172, 8, 0.9556, 0.928, 0.978)
"""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any


@cache
def prior() -> dict[str, Any]:
    """yields.toml."""
    return tomllib.loads(Path(__file__).with_name("yields.toml").read_text(encoding="utf-8"))


@dataclass(frozen=True)
class Yield:
    """Beta(good, bad), prior included, after `passed` and `failed` were seen; the interval holds `credible` of it."""

    good: int
    bad: int
    passed: int
    failed: int
    low: float
    high: float
    credible: float

    @property
    def mean(self) -> float:
        """The yield to reckon with: the probability that the next installation comes out good."""
        return self.good / (self.good + self.bad)


def learned(passed: int, failed: int, expected: float) -> Yield:
    """Give the yield after `passed` and `failed` installations, `expected` [0 to 1] being what was believed before."""
    credible = float(prior()["credible"])
    good, bad = _moved(passed, failed, expected)
    tail = (1 - credible) / 2
    return Yield(good, bad, passed, failed, quantile(tail, good, bad), quantile(1 - tail, good, bad), credible)


def mean_of(passed: int, failed: int, expected: float) -> float:
    """Give the yield to reckon with after so many installations, without the work of its interval.

    >>> mean_of(153, 7, 0.95) == learned(153, 7, 0.95).mean
    True
    """
    good, bad = _moved(passed, failed, expected)
    return good / (good + bad)


def _moved(passed: int, failed: int, expected: float) -> tuple[int, int]:
    """Give the parameters of the distribution: the prior's, moved by what was seen."""
    weight = int(prior()["weight"])
    believed = min(weight - 1, max(1, math.floor(weight * expected + 0.5)))
    return believed + passed, weight - believed + failed


def distribution(share: float, good: int, bad: int) -> float:
    """Work out the probability that a yield of Beta(good, bad) is at most `share`.

    At least `good` of good + bad - 1 trials.

    >>> round(distribution(0.5, 3, 3), 6), round(distribution(0.9, 10, 1), 6)
    (0.5, 0.348678)
    """
    if share <= 0 or share >= 1:
        return float(share >= 1)
    trials = good + bad - 1
    log_share, log_rest = math.log(share), math.log1p(-share)
    terms = (_log_choose(trials, k) + k * log_share + (trials - k) * log_rest for k in range(good, trials + 1))
    return min(1.0, math.fsum(map(math.exp, terms)))


def quantile(probability: float, good: int, bad: int) -> float:
    """Give the share below which Beta(good, bad) lies with that probability, by bisection.

    >>> round(quantile(0.5, 3, 3), 9)
    0.5
    """
    low, high = 0.0, 1.0
    for _ in range(60):
        middle = (low + high) / 2
        if distribution(middle, good, bad) < probability:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def _log_choose(whole: int, part: int) -> float:
    return math.lgamma(whole + 1) - math.lgamma(part + 1) - math.lgamma(whole - part + 1)
