"""Vapour in a ventilated room (topic 15), and the ppm basis of exposure lists (part of topic 6)."""

import math
from typing import Any

import pytest

from kb.calc import run
from kb.calc.vapour import mg_m3
from tests.outside.published import Entry, cases, entry


def room(evaporated_g: float, over_h: float, volume_m3: float, changes_per_h: float, **more: float) -> dict[str, Any]:
    given = {
        "evaporated_g": evaporated_g,
        "over_h": over_h,
        "room_volume_m3": volume_m3,
        "air_changes_per_h": changes_per_h,
        "molar_mass_g_mol": 100,
    }
    result: dict[str, Any] = run("room-vapour", {**given, **more})["result"]
    return result


def carbon_monoxide(over_h: float) -> float:
    """Volume fraction after so long. The model is linear: a cubic metre of gas may stand for a gram."""
    given = entry("vent-CO-time").inputs
    fed = given["G_m3_s"] * 3600 * over_h
    return float(room(fed, over_h, given["V_m3"], given["Q_m3_s"] * 3600 / given["V_m3"])["peak_mg_m3"]) / 1000


def benzene(over_h: float) -> float:
    """g/m3 after so long, at 1 g/min."""
    given = entry("vent-benzene-t95").inputs
    changes = given["Q_m3_min"] * 60 / given["V_m3"]
    return float(room(60 * over_h, over_h, given["V_m3"], changes)["peak_mg_m3"]) / 1000


def test_time_to_reach_a_level() -> None:
    known = entry("vent-CO-time")
    earlier, later = (carbon_monoxide(known.expected + off) for off in (-known.tolerance, known.tolerance))
    assert earlier < known.inputs["C_target"] < later, known.against((earlier, later))


def test_steady_level() -> None:
    entry("vent-CO-ss").assert_near(carbon_monoxide(1000))


def test_steady_level_of_a_solvent() -> None:
    entry("vent-benzene-ss").assert_near(benzene(1000))


def test_time_to_95_per_cent() -> None:
    known = entry("vent-benzene-t95")
    earlier, later = (benzene((known.expected + off) / 60) / 0.1 for off in (-known.tolerance, known.tolerance))
    assert earlier < known.inputs["fraction"] < later, known.against((earlier, later))


def test_purge() -> None:
    known = entry("vent-purge-formula")
    given = known.inputs
    changes = {"air_changes_per_h": given["Q_m3_h"] / given["V_m3"]}
    levels = {"start_mg_m3": given["C1_ppm"], "target_mg_m3": given["C2_ppm"]}
    known.assert_near(run("room-clearing", {**levels, **changes})["result"]["minutes"])


@pytest.mark.parametrize("known", cases(15, "vent-ach"))
def test_share_removed_by_air_changes(known: Entry) -> None:
    """A level after evaporation at once: what is left after eight hours, at an eighth of the changes."""
    changes, hours = known.inputs["ACH"], known.inputs["hours"]
    found = room(1000, 0, 1, changes * hours / 8)
    known.assert_near(100 * (1 - found["left_mg_m3"] / found["peak_mg_m3"]))


def test_poor_mixing_divides_the_air_changes() -> None:
    known = entry("vent-mixing-K")
    for factor in known.inputs["K"]:
        mixed = room(10, 2, 50, 4, mixing_factor=factor)
        fewer = room(10, 2, 50, 4 / factor)
        assert mixed == fewer, known.against(mixed)


@pytest.mark.parametrize("known", cases(6, "ppm2mg"))
def test_ppm_at_the_lists_own_temperature(known: Entry) -> None:
    given = known.inputs
    known.assert_near(mg_m3(given["ppm"], given["MW"], given["Vm_L"]))
    found = room(10, 1, 50, 2, molar_mass_g_mol=given["MW"])
    assert found["peak_ppm"] * given["MW"] / given["Vm_L"] == pytest.approx(found["peak_mg_m3"]), known.against(found)


def test_lists_at_20_degrees_give_another_ppm() -> None:
    known = entry("ppm-basis")
    us, eu = room(10, 1, 50, 2), room(10, 1, 50, 2, molar_volume_l_mol=24.06)
    assert us["peak_mg_m3"] == eu["peak_mg_m3"], known.against(eu)
    assert math.isclose(eu["peak_ppm"] / us["peak_ppm"], 24.06 / 24.45), known.against(eu)
