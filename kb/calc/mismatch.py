"""Thermal mismatch: what unequal expansion does to bonded layers."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from kb.calc.spec import Input, Spec, number

_expansion = number(at_least=-1000, at_most=10_000)
_modulus = number(above=0, at_most=2000)
_thickness = number(above=0, at_most=100_000)
_COOLING = Input(
    "K of cooling, from cure (flat, without stress) to service; negative for warming",
    number(at_least=-3000, at_most=3000),
)

SPECS: Final = {
    "bilayer-curvature": Spec(
        inputs={
            "cte_1_ppm": Input("1e-6/K, expansion of layer 1", _expansion),
            "cte_2_ppm": Input("1e-6/K, expansion of layer 2", _expansion),
            "modulus_1_gpa": Input("GPa; for plates in place of strips E / (1 - poisson)", _modulus),
            "modulus_2_gpa": Input("GPa; for plates in place of strips E / (1 - poisson)", _modulus),
            "thickness_1_mm": Input("mm", _thickness),
            "thickness_2_mm": Input("mm", _thickness),
            "delta_c": _COOLING,
        },
        results={
            "curvature_per_m": "1/m, positive where layer 2 is on the inner side of the bend",
            "magnitude_per_m": "1/m, curvature without its sign",
            "stress_1_mpa": "MPa in layer 1 at the bond, tension positive",
            "stress_2_mpa": "MPa in layer 2 at the bond, tension positive",
        },
        example={
            "cte_1_ppm": 10,
            "cte_2_ppm": 20,
            "modulus_1_gpa": 200,
            "modulus_2_gpa": 70,
            "thickness_1_mm": 1,
            "thickness_2_mm": 2,
            "delta_c": 50,
        },
        source="Timoshenko 1925, bi-metal strip, beam form",
        sources=("timoshenko-1925",),
    ),
    "film-stress": Spec(
        inputs={
            "modulus_gpa": Input("GPa, of the film", _modulus),
            "poisson": Input("of the film", number(above=-1, at_most=0.5)),
            "cte_film_ppm": Input("1e-6/K, of the film", _expansion),
            "cte_part_ppm": Input("1e-6/K, of the part", _expansion),
            "delta_c": _COOLING,
        },
        results={
            "stress_mpa": "MPa in both directions of the film, tension positive",
            "mismatch_ue": "microstrain that the film is held stretched by",
        },
        example={"modulus_gpa": 3, "poisson": 0.35, "cte_film_ppm": 60, "cte_part_ppm": 12, "delta_c": 100},
        source="biaxial stress of a thin elastic film on a thick part: E / (1 - poisson) times the mismatch strain",
    ),
}


def bilayer_curvature(
    cte_1_ppm: float,
    cte_2_ppm: float,
    modulus_1_gpa: float,
    modulus_2_gpa: float,
    thickness_1_mm: float,
    thickness_2_mm: float,
    delta_c: float,
) -> Mapping[str, float]:
    """Work out the curvature [1/m] of two bonded strips cooled by `delta_c` [K], and the stresses at the bond [MPa].

    Expansions in [1e-6/K], moduli in [GPa], thicknesses in [mm]. Layer 2 shrinks on the inner side of the bend where it
    expands more with heat; swapping the layers turns the sign.

    Source: Timoshenko, J. Opt. Soc. Am. 11 (1925) 233 (recalled). The geometric shortcut R = t / (da dT), t being
    one layer's thickness, ignores the balance of forces and gives a radius a quarter too small for equal layers.

    >>> found = bilayer_curvature(0, 10, 200, 200, 1, 1, delta_c=100)
    >>> round(found["curvature_per_m"], 9), round(found["stress_1_mpa"], 6), round(found["stress_2_mpa"], 6)
    (0.75, -100.0, 100.0)
    """
    strain = (cte_2_ppm - cte_1_ppm) * 1e-6 * delta_c
    height_mm = thickness_1_mm + thickness_2_mm
    m = thickness_1_mm / thickness_2_mm
    n = modulus_1_gpa / modulus_2_gpa
    per_mm = 6 * strain * (1 + m) ** 2 / (height_mm * (3 * (1 + m) ** 2 + (1 + m * n) * (m**2 + 1 / (m * n))))
    # Each layer carries the same force, one in tension, one in compression, and bends to the same curvature.
    stiffness = (modulus_1_gpa * thickness_1_mm**3 + modulus_2_gpa * thickness_2_mm**3) / 12
    force = 2 * per_mm * stiffness / height_mm
    return {
        "curvature_per_m": per_mm * 1000,
        "magnitude_per_m": abs(per_mm) * 1000,
        "stress_1_mpa": -1000 * (force / thickness_1_mm + modulus_1_gpa * thickness_1_mm * per_mm / 2),
        "stress_2_mpa": 1000 * (force / thickness_2_mm + modulus_2_gpa * thickness_2_mm * per_mm / 2),
    }


def film_stress(
    modulus_gpa: float, poisson: float, cte_film_ppm: float, cte_part_ppm: float, delta_c: float
) -> Mapping[str, float]:
    """Work out the stress [MPa] in a thin film of `modulus_gpa` [GPa] on a thick part cooled by `delta_c` [K].

    Expansions in [1e-6/K]. Positive is tension: a film that shrinks more than its part is pulled. Elastic, so an
    upper estimate for adhesives that creep.

    Source: elasticity of a thin film (arithmetic; no source needed).

    >>> round(film_stress(2.41, 0.35, cte_film_ppm=90, cte_part_ppm=23.6, delta_c=100)["stress_mpa"], 2)
    24.62
    """
    mismatch_ue = (cte_film_ppm - cte_part_ppm) * delta_c
    return {"stress_mpa": modulus_gpa / (1 - poisson) * mismatch_ue / 1000, "mismatch_ue": mismatch_ue}
