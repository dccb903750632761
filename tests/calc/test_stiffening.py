"""Stiffening and layered beams."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.calc.stiffening import layered_beam, stiffening

strips = st.fixed_dictionaries(
    {"modulus_gpa": st.floats(0.1, 300), "thickness_mm": st.floats(0.01, 20), "width_mm": st.floats(1, 50)}
)


@given(st.lists(strips, max_size=5), strips)
def test_layers_add_up_in_any_order(layers: list[dict[str, float]], part: dict[str, float]) -> None:
    found = stiffening(part, layers)["ratio"]
    assert math.isclose(found, stiffening(part, layers[::-1])["ratio"], abs_tol=1e-12, rel_tol=1e-12)
    assert math.isclose(found, sum(stiffening(part, [layer])["ratio"] for layer in layers), rel_tol=1e-9, abs_tol=0)


def test_a_layer_like_the_part_doubles_it() -> None:
    part = {"modulus_gpa": 3.0, "thickness_mm": 2.0}
    assert stiffening(part, [part])["ratio"] == 1.0


@given(st.lists(strips, min_size=1, max_size=5), st.floats(-100, 100))
def test_stresses_have_no_resultant_but_the_moment(layers: list[dict[str, float]], moment: float) -> None:
    found = layered_beam(layers, moment)
    force = turning = bottom = 0.0
    for layer, (low, high) in zip(layers, found["stresses_mpa"], strict=True):
        area, middle = layer["width_mm"] * layer["thickness_mm"], bottom + layer["thickness_mm"] / 2
        mean, half = (low + high) / 2, (high - low) / 2
        force += mean * area
        # Linear stress: the mean acts at the middle, the slope adds its own moment.
        turning += area * (mean * (found["neutral_axis_mm"] - middle) - half * layer["thickness_mm"] / 6)
        bottom += layer["thickness_mm"]
    size = sum(abs(s) for pair in found["stresses_mpa"] for s in pair) * 1000
    assert abs(force) <= 1e-9 * size + 1e-9
    assert math.isclose(turning / 1000, moment, rel_tol=1e-6, abs_tol=1e-9)


def test_one_layer_is_a_plain_beam() -> None:
    found = layered_beam([{"modulus_gpa": 70, "thickness_mm": 2, "width_mm": 10}], moment_n_m=1)
    assert found["bending_stiffness_n_m2"] == pytest.approx(70e9 * 0.01 * 0.002**3 / 12)
    assert found["stresses_mpa"] == [pytest.approx([150, -150])]
