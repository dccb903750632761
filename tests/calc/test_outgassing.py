"""Outgassing: exactly at a limit passes, and water is shown without counting."""

from __future__ import annotations

import pytest

from kb.calc.outgassing import outgassing


@pytest.mark.parametrize(
    ("tml", "cvcm", "passes"), [(1.0, 0.1, True), (1.001, 0.1, False), (1.0, 0.1001, False), (0.0, 0.0, True)]
)
def test_both_limits_count_and_a_limit_itself_passes(tml: float, cvcm: float, passes: bool) -> None:
    assert outgassing(tml, cvcm) == {"passes": passes}


def test_water_is_a_credit_that_decides_nothing() -> None:
    found = outgassing(1.5, 0.05, wvr_pct=0.75)
    assert found == {"passes": False, "tml_less_water_pct": 0.75}
    assert outgassing(0.5, 0.05, wvr_pct=0.0)["tml_less_water_pct"] == 0.5
