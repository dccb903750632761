"""Surface energy of a solid from contact angles of two liquids."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final

from kb.calc.spec import Input, Spec, number

# Liquids at 20 degC [mN/m]: water split after Fowkes, Owens & Wendt 1969. Another split in use, 26.0 and 46.8,
# moves the polar term by a fifth: the split used is therefore an input, and shows in every answer.
WATER_DISPERSIVE: Final = 21.8
WATER_POLAR: Final = 51.0
DIIODOMETHANE: Final = 50.8

_angle = number(at_least=0, at_most=180)
_tension = number(above=0, at_most=200)

SPECS: Final = {
    "surface-energy": Spec(
        inputs={
            "water_angle_deg": Input("degree, contact angle of water", _angle),
            "diiodomethane_angle_deg": Input("degree, contact angle of diiodomethane", _angle),
            "water_dispersive_mn_m": Input("mN/m, dispersive part of water; another split in use: 26.0", _tension),
            "water_polar_mn_m": Input("mN/m, polar part of water; another split in use: 46.8", _tension),
            "diiodomethane_mn_m": Input("mN/m, surface tension of diiodomethane, taken as all dispersive", _tension),
        },
        results={
            "dispersive_mn_m": "mN/m",
            "polar_mn_m": "mN/m",
            "total_mn_m": "mN/m",
            "consistent": "false where the angles can't belong together in this model; polar_mn_m is then 0",
        },
        example={"water_angle_deg": 78, "diiodomethane_angle_deg": 52},
        source="Owens & Wendt 1969, geometric mean; water split after Fowkes (21.8 and 51.0 mN/m)",
        sources=("owens-wendt-1969",),
    )
}


def surface_energy(
    water_angle_deg: float,
    diiodomethane_angle_deg: float,
    water_dispersive_mn_m: float = WATER_DISPERSIVE,
    water_polar_mn_m: float = WATER_POLAR,
    diiodomethane_mn_m: float = DIIODOMETHANE,
) -> Mapping[str, float]:
    """Work out dispersive and polar surface energy [mN/m] from contact angles [degree] of water and diiodomethane.

    Owens-Wendt: g_l (1 + cos theta) / 2 = sqrt(g_s,d g_l,d) + sqrt(g_s,p g_l,p). Diiodomethane is taken as purely
    dispersive, which gives g_s,d; water then gives g_s,p.

    Source: Owens & Wendt 1969 (recalled); liquids' values as on a published worked example.

    >>> found = surface_energy(78, 52)
    >>> round(found["dispersive_mn_m"], 1), round(found["polar_mn_m"], 2), found["consistent"]
    (33.2, 5.72, True)
    """
    dispersive = diiodomethane_mn_m * ((1 + math.cos(math.radians(diiodomethane_angle_deg))) / 2) ** 2
    adhesion = (water_dispersive_mn_m + water_polar_mn_m) * (1 + math.cos(math.radians(water_angle_deg))) / 2
    root = (adhesion - math.sqrt(dispersive * water_dispersive_mn_m)) / math.sqrt(water_polar_mn_m)
    # Squaring a negative root would turn a contradiction into a polar surface.
    polar = root**2 if root > 0 else 0.0
    return {
        "dispersive_mn_m": dispersive,
        "polar_mn_m": polar,
        "total_mn_m": dispersive + polar,
        "consistent": root >= 0,
    }
