"""The simulated range: seeded, and true to the distributions that it draws from."""

from __future__ import annotations

import pytest
from scipy import stats

from kb.quantities.spread import attempts_drawn, factors_drawn, range_of


@pytest.mark.parametrize(("good", "share"), [(20, 0.95), (1, 0.01), (160, 0.5), (5000, 0.9), (3, 0.99999)])
def test_attempts_follow_the_negative_binomial(good: int, share: float) -> None:
    drawn = attempts_drawn(good, share, "seed", runs=4000)
    known = stats.nbinom(good, share)
    assert min(drawn) >= good
    assert sum(drawn) / len(drawn) - good == pytest.approx(known.mean(), abs=5 * known.std() / 4000**0.5 + 1e-9)
    # A tenth lies below the low end and a tenth beyond the high one, as far as 4000 draws can tell.
    low, high = range_of(drawn)
    assert known.cdf(low - good) >= 0.08
    assert known.cdf(high - good) >= 0.88
    assert known.cdf(low - good - 1) <= 0.12
    assert known.cdf(high - good - 1) <= 0.92


def test_the_same_seed_draws_the_same() -> None:
    assert attempts_drawn(20, 0.9, "a") == attempts_drawn(20, 0.9, "a")
    assert factors_drawn((0.5, 2.0), "a") == factors_drawn((0.5, 2.0), "a")
    assert factors_drawn((0.5, 2.0), "a") != factors_drawn((0.5, 2.0), "b")


def test_factors_stay_in_their_spread() -> None:
    drawn = factors_drawn((0.5, 2.0), "a", runs=2000)
    assert 0.5 <= min(drawn) < 0.6
    assert 1.8 < max(drawn) <= 2.0
    assert sum(drawn) / 2000 == pytest.approx((0.5 + 1 + 2) / 3, abs=0.03)
