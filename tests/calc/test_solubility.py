"""Hansen distance: it is a distance, and its ratio never promises safety."""

import math

from hypothesis import given
from hypothesis import strategies as st

from kb.calc.solubility import solubility_distance

points = st.lists(st.floats(0, 45), min_size=3, max_size=3)


@given(points, points)
def test_symmetric_and_zero_only_for_the_same(a: list[float], b: list[float]) -> None:
    there, back = solubility_distance(a, b, 5)["ra"], solubility_distance(b, a, 5)["ra"]
    assert there == back
    assert solubility_distance(a, a, 5)["ra"] == 0


@given(points, points, points)
def test_no_detour_is_shorter(a: list[float], b: list[float], c: list[float]) -> None:
    direct = solubility_distance(a, c, 5)["ra"]
    assert direct <= solubility_distance(a, b, 5)["ra"] + solubility_distance(b, c, 5)["ra"] + 1e-9


def test_dispersion_counts_twice() -> None:
    assert solubility_distance([16, 5, 5], [17, 5, 5], 1)["ra"] == 2
    assert solubility_distance([16, 5, 5], [16, 6, 5], 1)["ra"] == 1


def test_exactly_on_the_sphere_counts_as_attack() -> None:
    found = solubility_distance([16, 0, 3], [16, 4, 0], 5)
    assert (found["red"], found["attacks"]) == (1.0, True)


def test_tuples_do_as_well_as_lists() -> None:
    found = solubility_distance((15.8, 6.1, 16.4), (18.6, 10.5, 7.5), 8.6)
    assert math.isclose(found["red"], 1.325, abs_tol=0.001)
