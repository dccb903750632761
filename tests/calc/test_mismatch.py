"""Bilayer curvature and film stress: signs, symmetry and the limits in which they must agree."""

import math

from hypothesis import given
from hypothesis import strategies as st

from kb.calc.mismatch import bilayer_curvature, film_stress

expansions = st.floats(-5, 300)
moduli = st.floats(0.01, 600)
thicknesses = st.floats(0.001, 100)
spans = st.floats(-300, 300)


@given(expansions, moduli, moduli, thicknesses, thicknesses, spans)
def test_equal_expansions_stay_flat_and_unstressed(
    cte: float, e1: float, e2: float, t1: float, t2: float, delta: float
) -> None:
    found = bilayer_curvature(cte, cte, e1, e2, t1, t2, delta)
    assert set(found.values()) == {0.0}


@given(expansions, expansions, moduli, moduli, thicknesses, thicknesses, spans)
def test_swapping_layers_turns_the_sign(
    cte1: float, cte2: float, e1: float, e2: float, t1: float, t2: float, delta: float
) -> None:
    one = bilayer_curvature(cte1, cte2, e1, e2, t1, t2, delta)
    other = bilayer_curvature(cte2, cte1, e2, e1, t2, t1, delta)
    assert math.isclose(one["curvature_per_m"], -other["curvature_per_m"], rel_tol=1e-9, abs_tol=1e-12)
    assert math.isclose(one["stress_1_mpa"], other["stress_2_mpa"], rel_tol=1e-9, abs_tol=1e-12)
    assert one["magnitude_per_m"] == abs(one["curvature_per_m"])


@given(expansions, expansions, moduli, moduli, thicknesses, thicknesses, spans)
def test_forces_balance_and_strains_meet_at_the_bond(
    cte1: float, cte2: float, e1: float, e2: float, t1: float, t2: float, delta: float
) -> None:
    """An independent check: the strain at the bond is the same from either side."""
    found = bilayer_curvature(cte1, cte2, e1, e2, t1, t2, delta)
    strain_1 = found["stress_1_mpa"] / (1000 * e1) - 1e-6 * cte1 * delta
    strain_2 = found["stress_2_mpa"] / (1000 * e2) - 1e-6 * cte2 * delta
    scale = 1e-6 * (abs(cte1) + abs(cte2)) * abs(delta)
    assert math.isclose(strain_1, strain_2, abs_tol=1e-9 * scale + 1e-15)


def test_on_cooling_the_layer_that_shrinks_more_is_inside_and_in_tension() -> None:
    found = bilayer_curvature(10, 60, 70, 3, 1, 0.2, delta_c=100)
    assert found["curvature_per_m"] > 0
    assert found["stress_2_mpa"] > 0 > found["stress_1_mpa"]


@given(st.floats(0.1, 10), expansions, expansions, st.floats(1, 200))
def test_a_thin_layer_on_a_thick_one_is_a_film(modulus: float, film: float, part: float, delta: float) -> None:
    thin = bilayer_curvature(part, film, 200, modulus, 1000, 0.001, delta)["stress_2_mpa"]
    alone = film_stress(modulus, 0.0, film, part, delta)["stress_mpa"]  # a strip: no poisson
    assert math.isclose(thin, alone, rel_tol=1e-4, abs_tol=1e-9)


def test_film_in_both_directions_is_stiffer_than_a_strip() -> None:
    assert film_stress(3, 0.5, 60, 10, 100)["stress_mpa"] == 2 * film_stress(3, 0.0, 60, 10, 100)["stress_mpa"]
    assert film_stress(3, 0.35, 60, 10, 100)["mismatch_ue"] == 5000
    assert film_stress(3, 0.35, 10, 60, 100)["stress_mpa"] < 0
