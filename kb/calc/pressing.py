"""Pressing a gauge down: what a weight on it gives, and whether that is what an adhesive asks for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from kb.calc.spec import Input, Spec, number, several

#: Newtons that a kilogram presses with at rest (CODATA: standard acceleration of gravity).
_G = 9.80665
_pressure = number(above=0, at_most=1e5)

SPECS: Final = {
    "contact-pressure": Spec(
        inputs={
            "mass_kg": Input("kg that rest on it", number(above=0, at_most=1000)),
            "area_mm2": Input("mm2 that it rests on", number(above=0, at_most=1e6)),
            "wanted_kpa": Input("kPa, [least, most] that are wanted", several(_pressure)),
        },
        results={"pressure_kpa": "kPa on the area", "short_kpa": "kPa that are missing to the least; 0 where none are"},
        source="weight over area (arithmetic), at standard gravity",
        example={"mass_kg": 0.5, "area_mm2": 28, "wanted_kpa": [70, 200]},
    )
}


def contact_pressure(mass_kg: float, area_mm2: float, wanted_kpa: Sequence[float]) -> Mapping[str, float]:
    """Work out the pressure [kPa] of a weight [kg] on an area [mm2], and what is missing to the least that is wanted.

    Source: weight over area (arithmetic), at standard gravity.

    >>> contact_pressure(0.5, 28, [200, 350])
    {'pressure_kpa': 175.1, 'short_kpa': 24.9}
    """
    pressure = mass_kg * _G / area_mm2 * 1000
    return {"pressure_kpa": round(pressure, 1), "short_kpa": round(max(0.0, min(wanted_kpa) - pressure), 1)}
