"""Surroundings: what an exposure implies, what is assumed and said so, and that harder is never read as milder."""

from __future__ import annotations

import re
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.base.errors import BadInput
from kb.base.surroundings import Conditions, Surroundings, check, exposures, not_judged, said_as, split
from kb.base.vocabulary import EXPOSURES
from kb.job import job_of


def around(*entries: Any, span: tuple[float, float] = (15.0, 35.0), days: float = 30.0) -> dict[str, Any]:
    words, said = split(entries)
    conditions = {word: Conditions(**table) for word, table in said.items()}
    check(words, conditions)
    return Surroundings(tuple(words), conditions, span, None, days).facts()


def test_every_exposure_has_its_row_and_no_other() -> None:
    assert set(exposures()) == set(EXPOSURES)


def test_steam_is_as_hot_as_its_pressure_makes_it() -> None:
    """Saturated steam at 3 bar over atmosphere boils at 143 degC, by the steam tables."""
    assert around("steam")["high_c"] == 100
    assert around({"is": "steam", "pressure_bar": 3})["high_c"] == 143
    assert around({"is": "steam", "pressure_bar": 3}, span=(15, 180))["high_c"] == 180


def test_a_cryogenic_liquid_is_cold() -> None:
    assert around("cryogenic-liquid")["low_c"] == -150
    assert around("cryogenic-liquid", span=(-196, 20))["low_c"] == -196


def test_a_metre_of_water_is_a_tenth_of_a_bar() -> None:
    assert around({"is": "sea-water-immersion", "depth_m": 40})["pressure_bar"] == pytest.approx(4)


def test_wet_days_count_the_hours_of_a_day() -> None:
    assert around({"is": "condensing", "wet_h_per_day": 6}, days=100)["wet_days"] == 25
    assert around("condensing", days=100)["wet_days"] == 100
    assert around("mineral-oil", days=100)["wet_days"] == 0


def test_what_is_assumed_is_said_and_what_is_given_is_not() -> None:
    assert around("ionising-radiation")["assumed"] == ("dose_kgy of ionising-radiation: 100",)
    assert around({"is": "ionising-radiation", "dose_kgy": 5})["assumed"] == ()
    assert around("solvent-splash")["assumed"] == ("every kind of solvent-splash",)
    assert around({"is": "solvent-splash", "of": ["ketone"]})["solvent_families"] == ("ketone",)


@given(st.sampled_from(sorted(exposures())), st.floats(0, 60), st.floats(0, 40), st.floats(1, 4000))
def test_hotter_and_longer_brings_no_less_of_anything(word: str, hotter: float, colder: float, longer: float) -> None:
    mild, hard = around(word), around(word, span=(15.0 - colder, 35.0 + hotter), days=30.0 + longer)
    assert hard["high_c"] >= mild["high_c"]
    assert hard["low_c"] <= mild["low_c"]
    assert hard["wet_days"] >= mild["wet_days"]
    brought = {row[:2]: row[2] for row in hard["met"]}
    assert all(brought[row[:2]] >= row[2] for row in mild["met"])


@pytest.mark.parametrize(
    ("entry", "said"),
    [
        ({"is": "dry-air", "depth_m": 3}, "'dry-air' has no depth_m; it takes no figures"),
        ({"is": "steam", "depth_m": 3}, "it takes pressure_bar"),
        ({"is": "solvent-splash", "of": ["tea"]}, "of no kind 'tea'"),
        ({"depth_m": 3}, "needs `is`"),
    ],
)
def test_figures_that_an_exposure_can_not_have_are_refused(entry: dict[str, Any], said: str) -> None:
    with pytest.raises(ValueError, match=said.replace("(", r"\(")):
        around(entry)


def test_what_no_rule_judges_is_told_so_and_means_no_exposure() -> None:
    assert not set(not_judged()) & set(said_as())
    with pytest.raises(BadInput, match=r"'Hydrogen gas' is not judged as an exposure; .* write explosive-atmosphere"):
        job_of(
            {"part": {"substrate": "brass"}, "service": {"temperature_c": [1, 2], "exposures": ["Hydrogen gas"]}}, "j"
        )
    named = set(re.findall(r"[a-z]+(?:-[a-z]+)+", " ".join(not_judged().values())))
    assert named <= set(EXPOSURES)


def test_an_exposure_with_its_heat_is_told_where_the_heat_belongs() -> None:
    service = {"temperature_c": [1, 2], "exposures": ["hot oil"]}
    with pytest.raises(BadInput, match="'hot oil' is mineral-oil and a heat; write mineral-oil, and the heat in temp"):
        job_of({"part": {"substrate": "brass"}, "service": service}, "j")
