"""Mean kinetic temperature, ageing factor and pot life: what must hold whatever the numbers."""

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, interpolate

from kb.calc.ageing import GAS_CONSTANT, ageing_factor, mean_kinetic_temperature, pot_life

temperatures = st.lists(st.floats(-60, 150), min_size=1, max_size=30)
activations = st.floats(8, 400)
degrees = st.floats(-60, 200)


@given(temperatures, activations)
def test_never_below_the_plain_mean_nor_above_the_hottest(readings: list[float], activation: float) -> None:
    """The rate is convex in temperature for activation energies above 2 R T: 7 kJ/mol at 150 degC."""
    found = mean_kinetic_temperature(readings, activation_kj_mol=activation)
    assert found["mean_c"] - 1e-7 <= found["mkt_c"] <= max(readings) + 1e-7


@given(temperatures, st.integers(1, 5))
def test_repeating_a_history_changes_nothing(readings: list[float], times: int) -> None:
    once, often = mean_kinetic_temperature(readings), mean_kinetic_temperature(readings * times)
    assert math.isclose(once["mkt_c"], often["mkt_c"], abs_tol=1e-7)


@given(st.lists(st.tuples(st.floats(-60, 150), st.floats(0.01, 100)), min_size=1, max_size=20))
def test_hours_are_weights(history: list[tuple[float, float]]) -> None:
    readings, hours = [t for t, _ in history], [h for _, h in history]
    found = mean_kinetic_temperature(readings, hours=hours)["mkt_c"]
    # The constant temperature that ages alike: rate times time is the same.
    scale = 83_144 / GAS_CONSTANT
    aged = math.fsum(h * math.exp(-scale / (t + 273.15)) for t, h in history)
    assert math.isclose(aged, math.fsum(hours) * math.exp(-scale / (found + 273.15)), rel_tol=1e-6)
    times = [math.fsum(hours[:i]) for i in range(len(hours) + 1)]
    if all(later > earlier for earlier, later in pairwise(times)):
        held = mean_kinetic_temperature([*readings, 999.0], times_h=times)["mkt_c"]
        assert math.isclose(held, found, abs_tol=1e-6)  # the last reading counts for nothing


def test_trapezoid_is_the_area_under_the_rate() -> None:
    times, readings = [0.0, 2.0, 3.0, 10.0], [5.0, 40.0, 20.0, 6.0]
    scale = 83_144 / GAS_CONSTANT
    rate = interpolate.make_interp_spline(times, [math.exp(-scale / (t + 273.15)) for t in readings], k=1)
    area, _ = integrate.quad(rate, times[0], times[-1], points=times[1:-1])
    found = mean_kinetic_temperature(readings, times_h=times, between="trapezoid")["mkt_c"]
    assert found == pytest.approx(-scale / math.log(area / 10) - 273.15, abs=1e-6)


def test_a_warm_weekend_weighs_more_than_the_mean_says() -> None:
    found = mean_kinetic_temperature([5, 30], hours=[5 * 24, 2 * 24])
    assert found["mean_c"] == pytest.approx(12.142857)
    assert found["mkt_c"] > found["mean_c"] + 7


@given(degrees, degrees, st.floats(1.1, 5))
def test_there_and_back_is_one(a: float, b: float, q10: float) -> None:
    there, back = ageing_factor(a, b, q10=q10), ageing_factor(b, a, q10=q10)
    assert math.isclose(there["factor"] * back["factor"], 1, rel_tol=1e-9)


@given(degrees, degrees, st.floats(1.1, 5))
def test_the_equivalent_model_says_the_same_between_the_two(a: float, b: float, q10: float) -> None:
    by_q10 = ageing_factor(a, b, q10=q10)
    by_energy = ageing_factor(a, b, activation_kj_mol=by_q10["equivalent_activation_kj_mol"])
    assert math.isclose(by_q10["factor"], by_energy["factor"], rel_tol=1e-9)
    assert math.isclose(by_energy["equivalent_q10"], q10, rel_tol=1e-9)


@pytest.mark.parametrize("both_or_none", [{}, {"q10": 2.0, "activation_kj_mol": 83.144}])
def test_two_models_are_not_mixed(both_or_none: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="two models, not to be mixed"):
        ageing_factor(30, 20, **both_or_none)


@pytest.mark.parametrize(
    ("mass", "reference", "optimistic"),
    [(10.0, 100.0, False), (100.0, 100.0, False), (101.0, 100.0, True), (None, 100.0, True), (10.0, None, True)],
)
def test_pot_life_says_when_it_promises_too_much(mass: float | None, reference: float | None, optimistic: bool) -> None:
    found = pot_life(40, 35, 25, q10=2, mass_g=mass, reference_mass_g=reference)
    assert found == {"pot_life_min": 20.0, "optimistic": optimistic}
