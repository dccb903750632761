"""Limits for days lie between those for hours and for life; a margin says how many times over."""

from hypothesis import given
from hypothesis import strategies as st

from kb.calc.endurance import limit_for_days, margin

celsius = st.floats(-200, 1000)


@given(celsius, celsius)
def test_the_limit_for_days_lies_between_those_for_hours_and_for_life(one: float, other: float) -> None:
    life, brief = sorted((one, other))
    assert life <= limit_for_days(brief, life)["limit_c"] <= brief


@given(st.floats(1, 1e6), st.floats(1, 1e6))
def test_a_margin_of_one_is_just_enough(has: float, asked: float) -> None:
    assert margin(asked, asked) == {"times": 1.0}
    assert (margin(has, asked)["times"] > 1.001) <= (has > asked)
