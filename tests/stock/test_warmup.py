"""The wait of a cold container: where the air takes the warmth at once, conduction alone decides."""

from __future__ import annotations

import math

import pytest

from kb.base.errors import BadInput
from kb.stock import warmup
from kb.stock.practice import figure
from kb.stock.warmup import radius_m, warm_up


@pytest.mark.parametrize("volume_ml", [20, 1000, 20_000])
def test_conduction_alone_takes_its_exact_time(volume_ml: float, monkeypatch: pytest.MonkeyPatch) -> None:
    """The slowest part of the exact series for a cylinder whose surface is as warm as the air; at most a little more.

    A cylinder of radius R and height H cools as exp(-t/T), with 1/T = k/c ((j/R)^2 + (pi/H)^2) and j the first zero of
    the Bessel function J0.
    """
    monkeypatch.setattr(
        warmup, "figure", lambda table, name: 1e9 if name == "heat_transfer_w_m2k" else figure(table, name)
    )
    radius = radius_m(volume_ml)
    height = volume_ml * 1e-6 / (math.pi * radius**2)
    diffusivity = figure("warming", "conductivity_w_mk") / (figure("warming", "volumetric_heat_j_cm3k") * 1e6)
    exact_min = 1 / (diffusivity * ((2.404826 / radius) ** 2 + (math.pi / height) ** 2)) / 60
    assert exact_min <= warm_up(volume_ml, 5, 22, 45)["time_constant_min"] <= 1.05 * exact_min


def test_the_largest_container_is_twenty_litres() -> None:
    assert warm_up(20_000, 5, 22, 45)["wait_min"] > 0
    with pytest.raises(BadInput, match=r"volume_ml: 20000\.1 is not above 0 and up to 20000;"):
        warm_up(20_000.1, 5, 22, 45)


def test_what_is_already_warm_enough_may_be_opened_even_in_a_damp_room() -> None:
    """No room is too damp for a container that is warmer than the dew point already."""
    assert warm_up(20, 30, 22, 95)["wait_min"] == 0
