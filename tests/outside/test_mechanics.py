"""Thermal mismatch (7) and layered beams (8). Laminate properties (`qi-*`) belong to no calculation here."""

from typing import Any

import pytest

from kb.calc import run
from tests.outside.published import Entry, cases, entry

INCH_MM, KSI_GPA, PSI_MPA, KIP_INCH_N_M = 25.4, 6.894757e-3, 6.894757e-3, 112.98483


def bilayer(**given: float) -> dict[str, Any]:
    result: dict[str, Any] = run("bilayer-curvature", given)["result"]
    return result


def beam(layers: list[tuple[float, float, float]], moment_n_m: float) -> dict[str, Any]:
    """Layers from the bottom: modulus [GPa], width [mm], thickness [mm]."""
    named = [{"modulus_gpa": e, "width_mm": w, "thickness_mm": t} for e, w, t in layers]
    result: dict[str, Any] = run("layered-beam", {"layers": named, "moment_n_m": moment_n_m})["result"]
    return result


def test_steel_on_aluminium() -> None:
    known = entry("bimetal-steel-al")
    given = known.inputs
    found = bilayer(
        cte_1_ppm=given["alpha1"] * 1e6,
        cte_2_ppm=given["alpha2"] * 1e6,
        modulus_1_gpa=given["E1_Pa"] / 1e9,
        modulus_2_gpa=given["E2_Pa"] / 1e9,
        thickness_1_mm=given["h1_m"] * 1000,
        thickness_2_mm=given["h2_m"] * 1000,
        delta_c=given["dT_K"],
    )
    known.assert_near(found["curvature_per_m"])


def equal_layers() -> dict[str, Any]:
    return bilayer(
        cte_1_ppm=0,
        cte_2_ppm=10,
        modulus_1_gpa=200,
        modulus_2_gpa=200,
        thickness_1_mm=1,
        thickness_2_mm=1,
        delta_c=100,
    )


def test_equal_layers() -> None:
    known = entry("bimetal-equal")
    found = equal_layers()
    known.assert_near(found["curvature_per_m"], "curvature_1_m")
    known.assert_near(found["stress_2_mpa"], "interface_stress_MPa")
    known.assert_near(-found["stress_1_mpa"], "interface_stress_MPa")


def test_the_geometric_shortcut_is_not_used() -> None:
    known = entry("bimetal-naive")
    shortcut_m = 0.001 / (10e-6 * 100)  # one layer's thickness over the mismatch strain
    known.assert_near(1 / equal_layers()["curvature_per_m"] / shortcut_m)


@pytest.mark.parametrize("known", cases(7, "stoney"))
def test_a_very_thin_film_bends_its_part_as_stoney_says(known: Entry) -> None:
    given = known.inputs
    plate_gpa = given.get("biaxial_modulus_Pa", given.get("E_s_Pa", 0) / (1 - given.get("nu_s", 0))) / 1e9
    # A film so thin that its own stiffness doesn't count, pulling with the same force per width.
    force_per_width = known.expected * given["h_f_m"] * 1000  # N/mm
    film_gpa, film_mm = 1000.0, 1e-6
    strain_ppm = 1e6 * force_per_width / (film_gpa * 1000 * film_mm)
    found = bilayer(
        cte_1_ppm=0,
        cte_2_ppm=strain_ppm / 1000,
        modulus_1_gpa=plate_gpa,
        modulus_2_gpa=film_gpa,
        thickness_1_mm=given["h_s_m"] * 1000,
        thickness_2_mm=film_mm,
        delta_c=1000,
    )
    known.assert_near(known.expected * found["curvature_per_m"] * given["R_m"])


def test_film_on_silicon() -> None:
    known = entry("film-al-si")
    given = {"modulus_gpa": known.inputs["E_Pa"] / 1e9, "poisson": known.inputs["nu"]}
    expansion = {"cte_film_ppm": known.inputs["d_alpha"] * 1e6, "cte_part_ppm": 0, "delta_c": 1}
    known.assert_near(run("film-stress", {**given, **expansion})["result"]["stress_mpa"])


def test_epoxy_on_aluminium() -> None:
    known = entry("film-epoxy-al")
    given = {
        "modulus_gpa": known.inputs["E_Pa"] / 1e9,
        "poisson": known.inputs["nu"],
        "cte_film_ppm": known.inputs["alpha_film"] * 1e6,
        "cte_part_ppm": known.inputs["alpha_sub"] * 1e6,
        "delta_c": known.inputs["dT_K"],
    }
    known.assert_near(run("film-stress", given)["result"]["stress_mpa"])


def wood_under_steel() -> dict[str, Any]:
    given = entry("tsec-na").inputs
    wood, steel = given["wood_mm"], given["steel_on_top_mm"]
    return beam([(given["E_wood_GPa"], *wood), (given["E_steel_GPa"], *steel)], given["M_kNm"] * 1000)


def test_neutral_axis_of_wood_under_steel() -> None:
    entry("tsec-na").assert_near(wood_under_steel()["neutral_axis_mm"])


def test_stress_in_the_steel_on_top() -> None:
    entry("tsec-steel-top").assert_near(-wood_under_steel()["stresses_mpa"][1][1])


@pytest.mark.parametrize("known", cases(8, "gere"))
def test_wood_on_steel(known: Entry) -> None:
    given = known.inputs
    steel = (given["E_steel_ksi"] * KSI_GPA, *(side * INCH_MM for side in given["steel_bottom_in"]))
    wood = (given["E_wood_ksi"] * KSI_GPA, *(side * INCH_MM for side in given["wood_in"]))
    bottom, top = beam([steel, wood], given["M_kip_in"] * KIP_INCH_N_M)["stresses_mpa"][0]
    known.assert_near((bottom if known.id.endswith("bot") else top) / PSI_MPA)


def test_wood_between_steel() -> None:
    known = entry("ou-stage-beam")
    given = known.inputs
    width, height = given["wood_mm"]
    layers = [
        (given["E_steel_GPa"], width, given["steel_bottom_mm"]),
        (given["E_wood_GPa"], width, height),
        (given["E_steel_GPa"], width, given["steel_top_mm"]),
    ]
    found = beam(layers, 1000 * given["w_kN_m"] * given["span_m"] ** 2 / 8)
    known.assert_near(found["neutral_axis_mm"], "NA_mm_from_bottom")
    known.assert_near(found["stresses_mpa"][2][1], "steel_top_MPa")
    known.assert_near(found["stresses_mpa"][0][0], "steel_bottom_MPa")
    known.assert_near(found["stresses_mpa"][1][1], "wood_top_MPa")
