"""Spares: monotone, minimal, and exact at the edge."""

from fractions import Fraction
from itertools import islice
from math import comb

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from kb.calc.spares import _at_least, spares


def at_least(good: int, attempts: int, share: Fraction) -> Fraction:
    return Fraction(*next(islice(_at_least(good, share), attempts - good, None)))


goods = st.integers(1, 200)
shares = st.floats(0.2, 1)
confidences = st.floats(0.01, 0.999)


@given(goods, shares, confidences)
def test_smallest_by_scipy(good: int, share: float, confidence: float) -> None:
    attempts = spares(good, share, confidence)["attempts"]
    assert stats.binom.sf(good - 1, attempts, share) >= confidence - 1e-9
    assert attempts == good or stats.binom.sf(good - 1, attempts - 1, share) < confidence + 1e-9


@given(goods, shares, shares, confidences, confidences)
def test_monotone(good: int, p: float, q: float, c: float, d: float) -> None:
    assert spares(good, min(p, q), c)["attempts"] >= spares(good, max(p, q), c)["attempts"] >= good
    assert spares(good, p, min(c, d))["attempts"] <= spares(good, p, max(c, d))["attempts"]
    assert spares(good, p, c)["attempts"] < spares(good + 1, p, c)["attempts"]


@given(st.integers(1, 30), st.integers(0, 30), st.fractions(0, 1))
def test_exact_probability_by_the_plain_sum(good: int, more: int, share: Fraction) -> None:
    attempts = good + more
    plain = sum(comb(attempts, k) * share**k * (1 - share) ** (attempts - k) for k in range(good, attempts + 1))
    assert at_least(good, attempts, share) == plain


@given(st.integers(1, 12), st.integers(0, 12), st.sampled_from([0.5, 0.25, 0.125, 0.75]))
def test_a_confidence_that_is_just_reached_is_enough(good: int, more: int, share: float) -> None:
    """Binary shares: the probability is a float without rounding, so that the edge can be hit from both sides."""
    exact = at_least(good, good + more, Fraction(share))
    confidence = float(exact)
    if Fraction(confidence) == exact and Fraction(str(confidence)) == exact and confidence < 1:
        assert spares(good, share, confidence)["attempts"] == good + more


@pytest.mark.parametrize(
    ("good", "share", "confidence", "attempts"),
    [
        (1, 0.9, 0.9, 1),  # exactly
        (1, 0.9, 0.99, 2),  # 1 - 0.1^2, exactly in decimals; floats give 0.9899999…
        (1, 0.7, 0.91, 2),
        (2, 0.9, 0.81, 2),
        (3, 0.9, 0.729, 3),
        (2, 0.9, 0.972, 3),
        (1, 0.9, 0.9900000001, 3),  # just above
    ],
)
def test_decimal_edges(good: int, share: float, confidence: float, attempts: int) -> None:
    assert spares(good, share, confidence)["attempts"] == attempts


def test_a_sure_thing_needs_no_spares() -> None:
    assert spares(40, 1, 0.999) == {"attempts": 40, "probability": 1.0}


def test_too_many_attempts_are_refused() -> None:
    with pytest.raises(ValueError, match="check good_needed"):
        spares(1000, 1e-6, 0.5)
    with pytest.raises(ValueError, match="lower the confidence"):
        spares(1, 2e-6, 0.999)


def test_near_certainty_is_reached_in_good_time() -> None:
    assert spares(1, 0.01, 0.9999999999999999)["attempts"] == 3666  # ln(1e-16) / ln(0.99), rounded up


def test_large_batches_are_counted() -> None:
    attempts = spares(20_000, 0.95, 0.95)["attempts"]
    assert attempts == int(stats.nbinom.ppf(0.95, 20_000, 0.95)) + 20_000
