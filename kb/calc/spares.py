"""How many installations to attempt so that enough come out good."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from fractions import Fraction
from itertools import count
from typing import Final

from kb.calc.spec import Input, Spec, number, whole

#: Above this many attempts the count takes too long, and a bench has made a mistake.
_MOST: Final = 1_000_000
#: Rounding of the sum of probabilities stays well below this; nearer to the confidence, exact numbers decide.
_NEAR: Final = 1e-7

SPECS: Final = {
    "spares": Spec(
        inputs={
            "good_needed": Input("good installations wanted", whole(at_least=1, at_most=_MOST)),
            "expected_yield": Input("share that comes out good, above 0 to 1", number(above=0, at_most=1)),
            "confidence": Input("probability of having enough, between 0 and 1", number(above=0, below=1)),
        },
        results={
            "attempts": "installations to attempt",
            "probability": "that so many attempts give enough",
        },
        example={"good_needed": 20, "expected_yield": 0.95, "confidence": 0.95},
        source="smallest n for which the binomial probability of at least good_needed successes in n reaches the "
        "confidence; compared exactly",
    )
}


def spares(good_needed: int, expected_yield: float, confidence: float) -> Mapping[str, float]:
    """Find the smallest number of attempts that gives `good_needed` good ones with at least `confidence`.

    Each attempt succeeds with probability `expected_yield`, independently of the others. Both shares are taken as
    the decimal numbers that they are written as, so that a probability of exactly the confidence is enough.
    Raises ValueError where more than a million attempts would be needed.

    Source: definition of the binomial distribution (arithmetic).

    >>> spares(20, 0.95, 0.95)["attempts"]
    23
    >>> spares(51, 0.5, 0.5)["attempts"]
    101
    """
    if good_needed / expected_yield > _MOST:
        raise ValueError(f"more than {_MOST} attempts would be needed; check good_needed and expected_yield")
    if expected_yield == 1:
        return {"attempts": good_needed, "probability": 1.0}
    wanted = Fraction(str(confidence))
    exact = enumerate(_at_least(good_needed, Fraction(str(expected_yield))), start=good_needed)
    log_yield, log_loss = math.log(expected_yield), math.log1p(-expected_yield)
    probability = 0.0
    for attempts in range(good_needed, _MOST + 1):
        # Probability that the last good one that is needed comes at exactly this attempt.
        probability += math.exp(
            math.lgamma(attempts)
            - math.lgamma(good_needed)
            - math.lgamma(attempts - good_needed + 1)
            + good_needed * log_yield
            + (attempts - good_needed) * log_loss
        )
        enough = probability > confidence
        if abs(probability - confidence) < _NEAR:
            over, under = next(pair for n, pair in exact if n == attempts)
            enough = over * wanted.denominator >= under * wanted.numerator
        if enough:
            return {"attempts": attempts, "probability": min(probability, 1.0)}
    raise ValueError(f"more than {_MOST} attempts would be needed; lower the confidence")


def _at_least(good: int, share: Fraction) -> Iterator[tuple[int, int]]:
    """Give the probability of at least `good` successes, as numerator and denominator, in `good` attempts and on."""
    # Sum of C(good - 1 + k, k) share^good (1 - share)^k over a common denominator; reducing it would cost most.
    success, base = share.numerator, share.denominator
    numerator = term = success**good
    denominator = base**good
    for k in count(1):
        yield numerator, denominator
        term = term * (good - 1 + k) // k * (base - success)
        numerator = numerator * base + term
        denominator *= base
