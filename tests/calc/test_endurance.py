"""Limits for days lie between those for hours and for life; a margin says how many times over."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.calc.endurance import limit_for_days, margin

celsius = st.floats(-200, 1000)


@given(celsius, celsius)
def test_the_limit_for_days_lies_between_those_for_hours_and_for_life(one: float, other: float) -> None:
    life, brief = sorted((one, other))
    assert life <= limit_for_days(brief, life)["limit_c"] <= brief


@given(celsius, celsius, st.floats(0.01, 3), st.floats(0.01, 3))
def test_the_limit_falls_from_hours_to_three_days_and_never_leaps(
    one: float, other: float, sooner: float, later: float
) -> None:
    life, brief = sorted((one, other))
    first, last = sorted((sooner, later))
    assert limit_for_days(brief, life, last)["limit_c"] <= limit_for_days(brief, life, first)["limit_c"]
    assert limit_for_days(brief, life, 5 / 24)["limit_c"] == pytest.approx(brief, abs=0.5)
    assert limit_for_days(brief, life, 3)["limit_c"] == pytest.approx((brief + life) / 2, abs=0.5)


@given(st.floats(1, 1e6), st.floats(1, 1e6))
def test_a_margin_of_one_is_just_enough(has: float, asked: float) -> None:
    assert margin(asked, asked) == {"times": 1.0}
    assert (margin(has, asked)["times"] > 1.001) <= (has > asked)
