"""Weights: half a kilogram on a small gauge presses enough for an epoxy, on a large one it doesn't."""

from __future__ import annotations

import math

from hypothesis import given
from hypothesis import strategies as st

from kb.calc.pressing import contact_pressure


def test_half_a_kilogram_presses_a_small_gauge_and_not_a_large_one() -> None:
    assert contact_pressure(0.5, 7 * 4, [70, 200])["short_kpa"] == 0
    assert contact_pressure(0.5, 20 * 10, [70, 200])["short_kpa"] > 0


@given(st.floats(0.01, 100), st.floats(1, 1e4), st.floats(1, 1e4))
def test_what_is_there_and_what_is_missing_make_up_what_is_wanted(mass: float, area: float, least: float) -> None:
    found = contact_pressure(mass, area, [least, 2 * least])
    reached = found["pressure_kpa"] + found["short_kpa"]
    assert math.isclose(reached, max(least, found["pressure_kpa"]), abs_tol=0.2)
