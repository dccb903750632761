"""The attempts of an estimate against scipy's exact binomial, in 300 random cases."""

from __future__ import annotations

import random
from fractions import Fraction
from math import comb

import pytest
from scipy import stats

from kb.job import Batch
from kb.quantities.layout import attempts_of

_DRAW = random.Random(300)
CASES = [
    (_DRAW.randint(1, 400), round(_DRAW.uniform(0.3, 1.0), 3), round(_DRAW.uniform(0.5, 0.999), 3)) for _ in range(300)
]


@pytest.mark.parametrize(("good", "share", "confidence"), CASES)
def test_spares_equal_the_exact_binomial(good: int, share: float, confidence: float) -> None:
    found = attempts_of(Batch(boards=good, expected_yield=share, confidence=confidence))
    assert stats.binom.sf(good - 1, found, share) >= confidence - 1e-12
    if found > good:
        assert stats.binom.sf(good - 1, found - 1, share) < confidence + 1e-12


@pytest.mark.parametrize(("good", "share", "confidence"), CASES[:40])
def test_and_the_sum_in_fractions(good: int, share: float, confidence: float) -> None:
    """No float anywhere: the first number of attempts of which the probability of too few good ones is small enough."""
    p, wanted = Fraction(str(share)), Fraction(str(confidence))
    found = attempts_of(Batch(boards=good, expected_yield=share, confidence=confidence))

    def enough(n: int) -> bool:
        return 1 - sum(comb(n, k) * p**k * (1 - p) ** (n - k) for k in range(good)) >= wanted

    if good <= 120:
        assert enough(found)
        assert found == good or not enough(found - 1)
