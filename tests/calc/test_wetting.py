"""Surface energy: back and forth, and angles that contradict each other."""

import math

from hypothesis import assume, given
from hypothesis import strategies as st

from kb.calc.wetting import DIIODOMETHANE, WATER_DISPERSIVE, WATER_POLAR, surface_energy


@given(st.floats(5, 50), st.floats(0, 40))
def test_angles_of_a_known_surface_give_it_back(dispersive: float, polar: float) -> None:
    water = WATER_DISPERSIVE + WATER_POLAR
    cosine_water = 2 * (math.sqrt(dispersive * WATER_DISPERSIVE) + math.sqrt(polar * WATER_POLAR)) / water - 1
    cosine_oil = 2 * math.sqrt(dispersive / DIIODOMETHANE) - 1
    assume(-1 <= cosine_water <= 1 and -1 <= cosine_oil <= 1)
    found = surface_energy(math.degrees(math.acos(cosine_water)), math.degrees(math.acos(cosine_oil)))
    assert math.isclose(found["dispersive_mn_m"], dispersive, rel_tol=1e-6)
    assert math.isclose(found["polar_mn_m"], polar, rel_tol=1e-5, abs_tol=1e-6)
    assert math.isclose(found["total_mn_m"], dispersive + polar, rel_tol=1e-6)


def test_angles_that_contradict_make_no_polar_surface() -> None:
    found = surface_energy(120, 30)
    assert found["polar_mn_m"] == 0
    assert found["consistent"] is False


@given(st.floats(0, 179), st.floats(0.5, 60), st.floats(0, 90))
def test_better_wetted_by_water_is_more_polar(water: float, less: float, oil: float) -> None:
    assume(water - less >= 0)
    assert surface_energy(water - less, oil)["polar_mn_m"] >= surface_energy(water, oil)["polar_mn_m"]
