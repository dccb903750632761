"""Numbers with units at the edge: conversions against known values, decimal commas, and what is no number."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.base.units import _UNITS, converted, degrees, ending_of, to_unit, unit_of, written


@pytest.mark.parametrize(
    ("field", "unit"),
    [
        ("temperature_c", "degC"),
        ("cte_ppm_per_c", "ppm/delta_degC"),
        ("air_changes_per_h", "1/hour"),
        ("duration_h", "hour"),
        ("opened_life_days", "day"),
        ("room_volume_m3", "meter**3"),
        ("density_g_cm3", "g/cm**3"),
        ("surface_tension_mn_m", "mN/m"),
        ("dry_min", "minute"),
        ("boards", None),
    ],
)
def test_the_unit_is_the_end_of_the_name(field: str, unit: str | None) -> None:
    assert unit_of(field) == unit


@pytest.mark.parametrize(
    ("text", "unit", "number"),
    [
        ("212 degF", "degC", 100.0),
        ("-40 F", "degC", -40.0),
        ("300 K", "degC", 26.85),
        ("20 °C", "degC", 20.0),
        ("1 in", "mm", 25.4),
        (".5 in", "mm", 12.7),
        ("1e3 um", "mm", 1.0),
        ("2 weeks", "day", 14.0),
        ("1 week", "hour", 168.0),
        ("10 Mpsi", "GPa", 68.947572932),
        ("18 ppm/degF", "ppm/delta_degC", 32.4),
        ("18 ppm per degF", "ppm/delta_degC", 32.4),
        ("7.8 kg/m3", "g/cm**3", 0.0078),
        ("4 /hour", "1/hour", 4.0),
        ("4 1/hour", "1/hour", 4.0),
        ("0,25 in", "mm", 6.35),
        ("12", "mm", 12.0),
        ("0.2 W/m/degC", "W/m/K", 0.2),
        ("-300 um", "mm", -0.3),
    ],
)
def test_a_text_with_a_unit(text: str, unit: str, number: float) -> None:
    assert to_unit(text, unit) == pytest.approx(number, abs=1e-9)


@pytest.mark.parametrize(
    ("value", "unit", "said"),
    [
        ("1,500 mm", "mm", "a comma may part thousands or decimals"),
        ("1,2,3 mm", "mm", "a comma may part thousands or decimals"),
        ("warm", "degC", "'warm' is not a number with a unit, such as '20 degC'"),
        ("20 bananas", "mm", "is not a number with a unit"),
        ("5 kg", "mm", "is not in a unit that converts to mm"),
        ("9**9 mm", "mm", "is not a number with a unit"),
        ("1" * 61, "mm", "is too long"),
        ("-274 degC", "degC", "is below absolute zero"),
        (-273.16, "degC", "-273.16 degC is below absolute zero"),
        ("1e999 mm", "mm", "is not a finite number"),
        (math.inf, "mm", "is not a finite number"),
        (10**400, "mm", "is not a finite number"),
        (True, "mm", "True is not a number"),
        (None, "mm", "None is not a number"),
    ],
)
def test_what_is_no_number_is_told(value: Any, unit: str, said: str) -> None:
    with pytest.raises(ValueError, match=r"^.+$") as fault:
        to_unit(value, unit)
    assert said in str(fault.value)


def test_absolute_zero_itself_is_a_temperature() -> None:
    assert to_unit(-273.15, "degC") == -273.15
    assert to_unit("0 K", "degC") == -273.15
    assert to_unit(-274, "ppm") == -274


def test_a_text_of_sixty_letters_is_read() -> None:
    assert to_unit("1" + " " * 57 + "mm", "mm") == 1.0


@pytest.mark.parametrize("typed", ["-18", "minus 18", "Minus 18 C", "\u221218 degC", "\u2013 18", "minus .18e2"])
def test_a_minus_is_read_as_people_write_it(typed: str) -> None:
    assert to_unit(typed, "degC") == -18


@pytest.mark.parametrize("typed", ["minus", "18 minus", "minus minus 18", "minus x"])
def test_minus_alone_is_no_number(typed: str) -> None:
    with pytest.raises(ValueError, match="not a number with a unit"):
        to_unit(typed, "degC")


def test_the_longest_ending_is_the_one_that_counts() -> None:
    for ending in _UNITS:
        assert ending_of(f"x{ending}") == ending


def test_what_has_no_unit_stays() -> None:
    assert converted("boards", "20 degC") == "20 degC"
    assert converted("temperature_c", True) is True
    assert converted("temperature_c", None) is None
    assert converted("peak_c", {"temperature_c": 1}) == {"temperature_c": 1}
    assert converted("grid_mm", ("1 in", 2)) == [25.4, 2.0]


def test_the_fault_names_the_field() -> None:
    with pytest.raises(ValueError, match=r"^grid_mm: 'x' is not a number with a unit"):
        converted("grid_mm", [1, "x"])


def test_every_unit_is_written_as_people_do_and_read_back() -> None:
    for unit, _ in _UNITS.values():
        assert not {"*", "_"} & set(written(unit))
        assert to_unit(f"20 {written(unit)}", unit) == pytest.approx(20)


@given(st.floats(-273.15, 3000))
def test_a_temperature_is_printed_to_a_tenth(celsius: float) -> None:
    assert abs(float(degrees(celsius)) - celsius) <= 0.05 + 1e-9
    assert len(degrees(celsius).partition(".")[2]) <= 1
