"""Surface energy after Owens and Wendt (topic 5). Polymers' own tensions belong to the catalog."""

from typing import Any

import pytest

from kb.calc import describe, run
from tests.outside.published import Entry, cases, entry


def energy(known: Entry, **more: float) -> dict[str, Any]:
    given = {
        "water_angle_deg": known.inputs["theta_water_deg"],
        "diiodomethane_angle_deg": known.inputs["theta_CH2I2_deg"],
    }
    result: dict[str, Any] = run("surface-energy", {**given, **more})["result"]
    return result


def test_worked_example_dispersive() -> None:
    known = entry("owrk-78-52-d")
    known.assert_near(energy(known)["dispersive_mn_m"])


def test_worked_example_polar() -> None:
    known = entry("owrk-78-52-p")
    known.assert_near(energy(known)["polar_mn_m"])


@pytest.mark.parametrize("known", cases(5, "owrk-60-35", "owrk-100-70"))
def test_parts_and_total(known: Entry) -> None:
    found = energy(known)
    known.assert_near(found["dispersive_mn_m"], "gamma_d")
    known.assert_near(found["polar_mn_m"], "gamma_p")
    known.assert_near(found["total_mn_m"], "gamma")


def test_the_water_split_is_stated_and_can_be_changed() -> None:
    known = entry("owrk-water-split")
    example = entry("owrk-78-52-p")
    shown = run("surface-energy", {"water_angle_deg": 78, "diiodomethane_angle_deg": 52})["inputs"]
    known.assert_near(shown["water_dispersive_mn_m"], "dispersive")
    known.assert_near(shown["water_polar_mn_m"], "polar")
    known.assert_near(shown["water_dispersive_mn_m"] + shown["water_polar_mn_m"], "total")
    other = energy(example, water_dispersive_mn_m=26.0, water_polar_mn_m=46.8)["polar_mn_m"]
    assert other == pytest.approx(4.56, abs=0.01), known.note


@pytest.mark.parametrize("known", cases(5, "st-water", "st-diiodomethane"))
def test_surface_tensions_of_the_two_liquids(known: Entry) -> None:
    stated = describe("surface-energy").defaults
    tension = {
        "water": stated["water_dispersive_mn_m"] + stated["water_polar_mn_m"],
        "diiodomethane": stated["diiodomethane_mn_m"],
    }
    known.assert_near(tension[known.inputs["liquid"]])
