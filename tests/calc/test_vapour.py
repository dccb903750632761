"""Vapour in a room: mass is kept, and an integrator agrees."""

import math
from decimal import Decimal, localcontext

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad, solve_ivp

from kb.calc.vapour import _mean_rise, mg_m3, ppm, room_clearing, room_vapour

masses = st.floats(0.01, 1000)
hours = st.floats(0, 40)
volumes = st.floats(5, 1000)
changes = st.floats(0, 30)


@given(masses, st.floats(0, 8), volumes, changes)
def test_mass_is_kept(mass: float, over: float, volume: float, n: float) -> None:
    """What evaporated is what was carried out in the eight hours and what is left."""
    found = room_vapour(mass, over, volume, n, 100)
    carried_out = n * volume * found["average_8h_mg_m3"] * 8
    assert math.isclose(carried_out + volume * found["left_mg_m3"], 1000 * mass, rel_tol=1e-7)


@given(masses, hours, volumes, changes)
def test_average_and_rest_never_pass_the_peak(mass: float, over: float, volume: float, n: float) -> None:
    found = room_vapour(mass, over, volume, n, 100)
    assert 0 <= found["average_8h_mg_m3"] <= found["peak_mg_m3"] * (1 + 1e-9)
    assert 0 <= found["left_mg_m3"] <= found["peak_mg_m3"] <= 1000 * mass / volume * (1 + 1e-9)


@given(masses, hours, volumes, changes, st.floats(0.1, 20))
def test_more_air_is_never_worse(mass: float, over: float, volume: float, n: float, more: float) -> None:
    less_air, more_air = room_vapour(mass, over, volume, n, 100), room_vapour(mass, over, volume, n + more, 100)
    assert more_air["peak_mg_m3"] <= less_air["peak_mg_m3"]
    assert more_air["average_8h_mg_m3"] <= less_air["average_8h_mg_m3"] * (1 + 1e-9)


@pytest.mark.parametrize(("over", "n"), [(0.25, 0.5), (2, 4), (8, 1), (20, 0.2), (11, 6), (3, 1e-9)])
def test_an_integrator_agrees(over: float, n: float) -> None:
    mass, volume = 12.0, 60.0
    found = room_vapour(mass, over, volume, n, 100)
    rate = 1000 * mass / over / volume

    def after(start: float, begin: float, end: float, fed: float) -> tuple[float, float]:
        """Concentration at the end, and its integral."""
        solved = solve_ivp(lambda _, y: [fed - n * y[0], y[0]], (begin, end), [start, 0.0], rtol=1e-10, atol=1e-10)
        return float(solved.y[0, -1]), float(solved.y[1, -1])

    begin = max(0.0, over - 8)
    early, _ = after(0.0, 0.0, begin, rate) if begin else (0.0, 0.0)
    peak, rise = after(early, begin, over, rate)
    left, decay = after(peak, over, begin + 8, 0.0) if over < 8 else (peak, 0.0)
    assert found["peak_mg_m3"] == pytest.approx(peak, rel=1e-7)
    assert found["average_8h_mg_m3"] == pytest.approx((rise + decay) / 8, rel=1e-7)
    assert found["left_mg_m3"] == pytest.approx(left, rel=1e-6, abs=1e-7)


@pytest.mark.parametrize("x", ["1e-9", "1e-5", "9.9e-5", "1.01e-4", "1e-3", "0.5", "30"])
def test_filling_by_forty_digits(x: str) -> None:
    """The series for slow air and the closed form, against decimal arithmetic that has digits to spare."""
    with localcontext() as context:
        context.prec = 40
        exact = (Decimal(x) - 1 + (-Decimal(x)).exp()) / Decimal(x) ** 2
    assert _mean_rise(float(x)) == pytest.approx(float(exact), rel=1e-8)


def test_no_eight_hours_are_much_worse_than_those_told() -> None:
    """The worst eight hours begin a little later than evaporation; in an aired room that hardly counts."""
    found = room_vapour(10, 2, 50, 2, 100)
    steady = 1000 * 10 / 2 / (50 * 2)

    def level(t: float) -> float:
        return steady * (1 - math.exp(-2 * t)) if t <= 2 else found["peak_mg_m3"] * math.exp(-2 * (t - 2))

    worst = max(quad(level, s, s + 8, points=[2.0])[0] / 8 for s in (0.0, 0.1, 0.2, 0.5, 1.0))
    assert worst == pytest.approx(found["average_8h_mg_m3"], rel=1e-3)


@given(st.floats(0.001, 1e5), st.floats(10, 500))
def test_ppm_and_back(level: float, molar: float) -> None:
    assert math.isclose(mg_m3(ppm(level, molar), molar), level, rel_tol=1e-12)


def test_clearing_takes_no_time_where_the_air_is_good_already() -> None:
    assert room_clearing(10, 100, 4)["minutes"] == 0
    well, poorly = room_clearing(100, 10, 4), room_clearing(100, 10, 4, mixing_factor=3)
    assert poorly["minutes"] == pytest.approx(3 * well["minutes"])
