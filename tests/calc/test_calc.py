"""The registry: what is there, what it refuses, and that it stays light."""

import datetime
import importlib
import inspect
import json
import math
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from kb import calc
from kb.base.errors import BadInput
from kb.calc import spec
from kb.knowledge.catalog.files import load_sources

#: Names, inputs and results that others rely on.
PROMISED: dict[str, tuple[set[str], set[str]]] = {
    "dew-point": ({"air_temperature_c", "relative_humidity_pct"}, {"dew_point_c"}),
    "mean-kinetic-temperature": ({"temperatures_c", "hours", "activation_kj_mol"}, {"mkt_c"}),
    "grit-size": ({"scale", "grade"}, {"mean_um", "equivalents"}),
    "solubility-distance": ({"a", "b", "radius"}, {"ra", "red"}),
    "surface-energy": (
        {"water_angle_deg", "diiodomethane_angle_deg"},
        {"dispersive_mn_m", "polar_mn_m", "total_mn_m"},
    ),
    "bilayer-curvature": (
        {
            "cte_1_ppm",
            "cte_2_ppm",
            "modulus_1_gpa",
            "modulus_2_gpa",
            "thickness_1_mm",
            "thickness_2_mm",
            "delta_c",
        },
        {"curvature_per_m"},
    ),
    "film-stress": ({"modulus_gpa", "poisson", "cte_film_ppm", "cte_part_ppm", "delta_c"}, {"stress_mpa"}),
    "stiffening": ({"part", "layers"}, {"ratio", "percent"}),
    "ageing-factor": ({"q10", "activation_kj_mol", "temperature_c", "reference_c"}, {"factor"}),
    "spares": ({"good_needed", "expected_yield", "confidence"}, {"attempts"}),
    "outgassing": ({"tml_pct", "cvcm_pct", "wvr_pct"}, {"passes"}),
    "room-vapour": (
        {"evaporated_g", "over_h", "room_volume_m3", "air_changes_per_h", "molar_mass_g_mol"},
        {"peak_mg_m3", "average_8h_mg_m3", "peak_ppm"},
    ),
    "expiry": ({"made", "opened", "months", "days", "gs1", "today"}, {"date"}),
}

#: One good call of each, from outside.
CALLS = {name: calc.describe(name).example for name in calc.names()}


@pytest.mark.parametrize("name", PROMISED)
def test_promised_names_inputs_and_results_exist(name: str) -> None:
    known = calc.describe(name)
    inputs, results = PROMISED[name]
    assert inputs <= set(known.inputs)
    assert results <= set(known.results)


def test_names_are_in_order() -> None:
    assert list(calc.names()) == sorted(calc.names())


@pytest.mark.parametrize("name", calc.names())
def test_what_is_described_is_what_the_function_takes_and_gives(name: str) -> None:
    known = calc.describe(name)
    assert list(known.inputs) == sorted(known.inputs, key=list(inspect.signature(known.function).parameters).index)
    assert set(known.inputs) == set(inspect.signature(known.function).parameters)
    assert set(calc.run(name, CALLS[name])["result"]) == set(known.results)


@pytest.mark.parametrize("name", calc.names())
def test_answers_are_plain_json_and_show_inputs_with_defaults(name: str) -> None:
    answer = calc.run(name, CALLS[name])
    assert json.loads(json.dumps(answer)) == answer
    assert set(answer) == {"name", "inputs", "result", "source"}
    assert set(CALLS[name]) | set(calc.describe(name).defaults) == set(answer["inputs"])
    assert answer["source"]


@pytest.mark.parametrize("name", calc.names())
def test_docstrings_have_a_source_and_an_example(name: str) -> None:
    said = inspect.getdoc(calc.function(name)) or ""
    assert "Source:" in said
    assert ">>>" in said


def test_cited_works_are_in_the_list_of_sources() -> None:
    path = Path(__file__).parents[2] / "generic_catalog" / "sources.toml"
    cited = {source for name in calc.names() for source in calc.describe(name).sources}
    assert cited <= set(load_sources(path))


def test_listing_imports_no_calculation_and_running_one_imports_its_own_only() -> None:
    code = (
        "import sys; from kb import calc; calc.names();"
        "print(sorted(m for m in sys.modules if m.startswith('kb.calc.')), 'psychrolib' in sys.modules);"
        "calc.run('outgassing', {'tml_pct': 1, 'cvcm_pct': 0});"
        "print(sorted(m for m in sys.modules if m.startswith('kb.calc.')), 'psychrolib' in sys.modules)"
    )
    shown = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert shown.splitlines() == ["['kb.calc.spec'] False", "['kb.calc.outgassing', 'kb.calc.spec'] False"]


def refused(name: str, **inputs: Any) -> str:
    with pytest.raises(BadInput) as fault:
        calc.run(name, inputs)
    assert "\n" not in str(fault.value)
    return str(fault.value)


def test_an_unknown_name_gets_the_near_one() -> None:
    assert refused("dewpoint") == "calc: there is no calculation 'dewpoint'; did you mean 'dew-point'?"


def test_an_unknown_input_gets_the_near_one() -> None:
    assert refused("dew-point", air_temprature_c=20) == (
        "dew-point: there is no input 'air_temprature_c'; did you mean 'air_temperature_c'?"
    )


def test_a_missing_input_is_named() -> None:
    assert refused("outgassing", tml_pct=1) == (
        "outgassing: cvcm_pct: is missing; it takes: %, collected volatile condensable material"
    )
    assert "is missing" in refused("outgassing", tml_pct=1, cvcm_pct=None)


@pytest.mark.parametrize(
    ("value", "said"),
    [
        ("20", "'20' is not a number"),
        (True, "True is not a number"),
        ([20], "[20] is not a number"),
        (math.nan, "is not a finite number"),
        (-math.inf, "is not a finite number"),
        (10**400, "is not a finite number"),
        (-300, "must be at least -60 (given: -300)"),
        (101, "must be at most 100 (given: 101)"),
    ],
)
def test_what_is_no_number_in_the_domain_is_refused(value: Any, said: str) -> None:
    assert said in refused("dew-point", air_temperature_c=value, relative_humidity_pct=50)


@pytest.mark.parametrize(
    ("name", "inputs", "said"),
    [
        ("spares", {"good_needed": 1.5, "expected_yield": 1, "confidence": 0.9}, "whole number"),
        ("spares", {"good_needed": 1, "expected_yield": 0, "confidence": 0.9}, "above 0"),
        ("spares", {"good_needed": 1, "expected_yield": 0.9, "confidence": 1}, "below 1"),
        ("spares", {"good_needed": 10**6, "expected_yield": 0.9, "confidence": 0.9}, "more than 1000000 attempts"),
        ("solubility-distance", {"a": [1, 2], "b": [1, 2, 3], "radius": 1}, "must hold 3 values (given: 2)"),
        ("solubility-distance", {"a": [1, 2, "3"], "b": [1, 2, 3], "radius": 1}, "[2] '3' is not a number"),
        ("solubility-distance", {"a": "abc", "b": [1, 2, 3], "radius": 1}, "is not a list"),
        ("stiffening", {"part": {"modulus_gpa": 3}, "layers": []}, "thickness_mm is missing"),
        ("stiffening", {"part": {"modulus_gpa": 3, "thicknes_mm": 1}, "layers": []}, "did you mean 'thickness_mm'?"),
        ("stiffening", {"part": 3, "layers": []}, "is not a table"),
        ("grit-size", {"scale": "camy", "grade": "400"}, "did you mean 'cami'?"),
        ("grit-size", {"scale": "cami", "grade": "401"}, "cami has no grade '401'"),
        ("grit-size", {"scale": "cami", "grade": True}, "is not a text in quotes"),
        ("ageing-factor", {"temperature_c": 30, "reference_c": 20}, "give either q10 or activation_kj_mol"),
        (
            "ageing-factor",
            {"temperature_c": 2000, "reference_c": -270, "activation_kj_mol": 1000},
            "too large or too small",
        ),
        ("mean-kinetic-temperature", {"temperatures_c": []}, "must hold at least 1 value"),
        ("mean-kinetic-temperature", {"temperatures_c": [5, 6], "hours": [1]}, "1 values for 2 temperatures"),
        ("mean-kinetic-temperature", {"temperatures_c": [5, 6], "hours": [0, 1]}, "how long each reading holds"),
        ("mean-kinetic-temperature", {"temperatures_c": [5, 6], "times_h": [1, 1]}, "must rise"),
        ("mean-kinetic-temperature", {"temperatures_c": [5, 6], "times_h": [0, 1], "hours": [1, 1]}, "not both"),
        ("expiry", {"made": "2026-02-30", "days": 1}, "is not a date"),
        ("expiry", {"made": "2026-02-01"}, "give either months or days"),
        ("expiry", {"made": "2026-02-01", "months": 1, "days": 1}, "give either months or days"),
        ("expiry", {"made": "2026-02-01", "opened": "2026-03-01", "days": 1}, "exactly one of"),
        ("expiry", {"months": 1}, "exactly one of"),
        ("expiry", {"gs1": "261200"}, "give today"),
        ("expiry", {"gs1": 261200, "today": "2026-06-01"}, "in quotes"),
        ("expiry", {"gs1": "2612", "today": "2026-06-01"}, "is not six digits"),
        ("expiry", {"gs1": "２６１２００", "today": "2026-06-01"}, "is not six digits"),
        ("expiry", {"gs1": "261200", "today": "2026-06-01", "months": 1}, "no months or days"),
        ("expiry", {"made": "9999-12-31", "days": 1}, "beyond the calendar"),
        ("expiry", {"made": "9999-12-31", "months": 1}, "beyond the calendar"),
        ("dew-point", {"air_temperature_c": 20, "relative_humidity_pct": 1e-12}, "outside range"),
        ("room-vapour", {**CALLS["room-vapour"], "room_volume_m3": 0}, "above 0"),
        ("room-vapour", {**CALLS["room-vapour"], "evaporated_g": 1e308, "room_volume_m3": 1e-300}, "no finite number"),
        ("surface-energy", {"water_angle_deg": 181, "diiodomethane_angle_deg": 1}, "at most 180"),
        ("film-stress", {**CALLS["film-stress"], "poisson": 1.0}, "at most 0.5"),
    ],
)
def test_refusals(name: str, inputs: dict[str, Any], said: str) -> None:
    assert said in refused(name, **inputs)


def test_dates_may_be_dates() -> None:
    answer = calc.run("expiry", {"made": datetime.date(2026, 8, 31), "months": 6})
    assert answer["inputs"] == {"made": "2026-08-31", "months": 6}
    with pytest.raises(ValueError, match="is not a date"):
        spec.date(datetime.datetime(2026, 8, 31, 12))


def test_the_engine_gets_the_bare_function() -> None:
    solubility = importlib.import_module("kb.calc.solubility")
    assert calc.function("solubility-distance") is solubility.solubility_distance
    with pytest.raises(BadInput):
        calc.function("solubility")
