"""How far gauge, adhesive and coating stiffen the part that they are to measure."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Final

from kb.calc.spec import Input, Result, Spec, number, record, several

_modulus = number(above=0, at_most=2000)
_thickness = number(above=0, at_most=100_000)
_layer = record(modulus_gpa=_modulus, thickness_mm=_thickness)
_strip = record(modulus_gpa=_modulus, thickness_mm=_thickness, width_mm=number(above=0, at_most=100_000))

SPECS: Final = {
    "stiffening": Spec(
        inputs={
            "part": Input("a table: modulus_gpa [GPa], thickness_mm [mm]", _layer),
            "layers": Input("a list of such tables: gauge, adhesive, coatings", several(_layer, at_least=0)),
        },
        results={
            "ratio": "in-plane stiffness of the layers over the part's; 0.01 is 1 %",
            "percent": "the same in per cent, to two figures",
        },
        example={"part": {"modulus_gpa": 3, "thickness_mm": 1}, "layers": []},
        source="ratio of the sums of modulus times thickness, for even stretching (arithmetic)",
    ),
    "layered-beam": Spec(
        inputs={
            "layers": Input(
                "a list of tables from the bottom up: modulus_gpa [GPa], thickness_mm [mm], width_mm [mm]",
                several(_strip),
            ),
            "moment_n_m": Input("N m, bending moment; positive stretches the bottom", number()),
        },
        results={
            "neutral_axis_mm": "mm above the bottom",
            "bending_stiffness_n_m2": "N m^2",
            "curvature_per_m": "1/m under the moment",
            "stresses_mpa": "MPa, [bottom, top] of each layer, tension positive",
        },
        example={"layers": [{"modulus_gpa": 70, "thickness_mm": 1, "width_mm": 10}], "moment_n_m": 1},
        source="transformed section of a layered beam, plane sections stay plane (arithmetic)",
    ),
}


def stiffening(part: Mapping[str, float], layers: Sequence[Mapping[str, float]]) -> Mapping[str, float]:
    """Divide the in-plane stiffness of `layers` by that of `part`: each has `modulus_gpa` [GPa], `thickness_mm` [mm].

    An estimate for even stretching, in which the layers lie over the whole part; bending of a thin part needs
    `layered_beam`.

    Source: arithmetic; that 1 % is worth saying is common practice.

    >>> polyimide, epoxy = {"modulus_gpa": 3.0, "thickness_mm": 0.025}, {"modulus_gpa": 3.0, "thickness_mm": 0.025}
    >>> round(stiffening({"modulus_gpa": 3.0, "thickness_mm": 1.0}, [polyimide, epoxy])["ratio"], 6)
    0.05
    """
    added = sum(layer["modulus_gpa"] * layer["thickness_mm"] for layer in layers)
    ratio = added / (part["modulus_gpa"] * part["thickness_mm"])
    return {"ratio": ratio, "percent": float(f"{100 * ratio:.2g}")}


def layered_beam(layers: Sequence[Mapping[str, float]], moment_n_m: float = 0.0) -> Result:
    """Work out neutral axis [mm], bending stiffness [N m^2] and stresses [MPa] of bonded layers, from the bottom up.

    Each layer has `modulus_gpa` [GPa], `thickness_mm` [mm] and `width_mm` [mm].

    Source: the transformed section of any textbook on strength of materials (arithmetic).

    >>> strip = {"modulus_gpa": 70, "thickness_mm": 1, "width_mm": 10}
    >>> found = layered_beam([strip, strip], moment_n_m=1)
    >>> found["neutral_axis_mm"], round(found["stresses_mpa"][0][0], 1), round(found["stresses_mpa"][1][1], 1)
    (1.0, 150.0, -150.0)
    """
    bottoms = [math.fsum(layer["thickness_mm"] for layer in layers[:index]) for index in range(len(layers))]
    middles = [bottom + layer["thickness_mm"] / 2 for bottom, layer in zip(bottoms, layers, strict=True)]
    axial = [layer["modulus_gpa"] * layer["thickness_mm"] * layer["width_mm"] for layer in layers]
    axis = math.fsum(a * middle for a, middle in zip(axial, middles, strict=True)) / math.fsum(axial)
    # Per layer E (I + A d^2) in GPa mm^4, which is kN mm^2.
    bending = math.fsum(
        a * (layer["thickness_mm"] ** 2 / 12 + (middle - axis) ** 2)
        for a, layer, middle in zip(axial, layers, middles, strict=True)
    )
    per_mm = moment_n_m / bending
    stresses = [
        [1000 * layer["modulus_gpa"] * per_mm * (axis - height) for height in (bottom, bottom + layer["thickness_mm"])]
        for layer, bottom in zip(layers, bottoms, strict=True)
    ]
    return {
        "neutral_axis_mm": axis,
        "bending_stiffness_n_m2": bending / 1000,
        "curvature_per_m": per_mm * 1000,
        "stresses_mpa": stresses,
    }
