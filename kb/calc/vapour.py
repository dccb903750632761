"""Vapour in a room: what a well-mixed, ventilated room holds while something evaporates, and afterwards.

The model is optimistic beside the work: a nose over an open dish breathes far more than the room's mean.
A mixing factor of up to 10 divides the air changes to allow for air that does not mix.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final

from kb.calc.spec import Input, Spec, number

#: Litres per mole to which US exposure lists refer ppm: 25 degC, 1 atm. Lists at 20 degC use 24.06.
MOLAR_VOLUME_25C: Final = 24.45
#: Hours over which exposure limits average.
_SHIFT_H: Final = 8.0

_room_changes = Input("1/h, fresh air only; 0 for a closed room", number(at_least=0, at_most=10_000))
_mixing = Input("1 for perfect mixing, up to 10 for poor; divides the air changes", number(at_least=1, at_most=10))

SPECS: Final = {
    "room-vapour": Spec(
        inputs={
            "evaporated_g": Input("g, evaporated in all", number(at_least=0)),
            "over_h": Input("h, over which it evaporates evenly; 0 at once", number(at_least=0, at_most=10_000)),
            "room_volume_m3": Input("m3", number(above=0)),
            "air_changes_per_h": _room_changes,
            "molar_mass_g_mol": Input("g/mol", number(above=0, at_most=10_000)),
            "mixing_factor": _mixing,
            "molar_volume_l_mol": Input(
                "L/mol of the exposure list: 24.45 at 25 degC, 24.06 at 20 degC", number(at_least=20, at_most=30)
            ),
        },
        results={
            "peak_mg_m3": "mg/m3, at the end of evaporation",
            "average_8h_mg_m3": "mg/m3, over the 8 h that begin with evaporation, or end with it where it lasts longer",
            "peak_ppm": "ppm by volume at the list's temperature",
            "left_mg_m3": "mg/m3 still there at the end of those 8 h",
        },
        example={
            "evaporated_g": 10,
            "over_h": 2,
            "room_volume_m3": 60,
            "air_changes_per_h": 4,
            "molar_mass_g_mol": 106.17,
        },
        source="mass balance of a well-mixed room, even evaporation, then decay (arithmetic); ppm after "
        "a footnote of 29 CFR 1910.1000 table Z-1",
        sources=("osha-1910-1000",),
    ),
    "room-clearing": Spec(
        inputs={
            "start_mg_m3": Input("mg/m3 (or ppm for both), when evaporation has ended", number(above=0)),
            "target_mg_m3": Input("mg/m3, to wait for", number(above=0)),
            "air_changes_per_h": Input("1/h, fresh air only", number(above=0, at_most=10_000)),
            "mixing_factor": _mixing,
        },
        results={"minutes": "min until the air is down to the target"},
        example={"start_mg_m3": 500, "target_mg_m3": 50, "air_changes_per_h": 4},
        source="decay in a well-mixed room: ln(start / target) over the air changes (arithmetic)",
    ),
}


def room_vapour(
    evaporated_g: float,
    over_h: float,
    room_volume_m3: float,
    air_changes_per_h: float,
    molar_mass_g_mol: float,
    mixing_factor: float = 1.0,
    molar_volume_l_mol: float = MOLAR_VOLUME_25C,
) -> Mapping[str, float]:
    """Work out peak and 8 h average [mg/m3] while `evaporated_g` [g] evaporates evenly over `over_h` [h] in a room.

    `room_volume_m3` [m3] is well mixed and was clean; `air_changes_per_h` [1/h] of fresh air. The average is over the
    eight hours that begin with evaporation, or that end with it where it lasts longer. Surfaces absorb nothing.

    Source: mass balance (arithmetic).

    >>> found = room_vapour(100, over_h=1, room_volume_m3=50, air_changes_per_h=0, molar_mass_g_mol=106.17)
    >>> found["peak_mg_m3"], found["average_8h_mg_m3"], round(found["peak_ppm"])
    (2000.0, 1875.0, 461)
    """
    changes = air_changes_per_h / mixing_factor
    all_mg_m3 = 1000 * evaporated_g / room_volume_m3
    peak = all_mg_m3 * _mean_decay(changes * over_h)
    begin, rest = max(0.0, over_h - _SHIFT_H), max(0.0, _SHIFT_H - over_h)
    # Integrals over time [mg h/m3]: of the rise, less what lies before the eight hours, and of the decay after it.
    rise = all_mg_m3 * over_h * _mean_rise(changes * over_h)
    if begin > 0:
        rise -= all_mg_m3 / over_h * begin**2 * _mean_rise(changes * begin)
    decay = peak * rest * _mean_decay(changes * rest)
    return {
        "peak_mg_m3": peak,
        "average_8h_mg_m3": (rise + decay) / _SHIFT_H,
        "peak_ppm": ppm(peak, molar_mass_g_mol, molar_volume_l_mol),
        "left_mg_m3": peak * math.exp(-changes * rest),
    }


def _mean_decay(x: float) -> float:
    """Average exp(-u) for u from 0 to x: (1 - exp(-x)) / x."""
    return -math.expm1(-x) / x if x else 1.0


def _mean_rise(x: float) -> float:
    """Tell how full an evenly fed room is on average: (x - 1 + exp(-x)) / x^2. A half where no air is changed."""
    # Below this the difference cancels; the series is then exact to a double's precision.
    return 0.5 - x / 6 + x * x / 24 if x < 1e-4 else (x + math.expm1(-x)) / x**2


def ppm(mg_m3: float, molar_mass_g_mol: float, molar_volume_l_mol: float = MOLAR_VOLUME_25C) -> float:
    """Convert `mg_m3` [mg/m3] to parts per million by volume, at the temperature of the molar volume [L/mol].

    >>> round(ppm(435, 106.17), 1)
    100.2
    """
    return mg_m3 * molar_volume_l_mol / molar_mass_g_mol


def mg_m3(parts_per_million: float, molar_mass_g_mol: float, molar_volume_l_mol: float = MOLAR_VOLUME_25C) -> float:
    """Convert parts per million by volume to milligrams per cubic metre; the inverse of `ppm`.

    >>> round(mg_m3(100, 92.14))
    377
    """
    return parts_per_million * molar_mass_g_mol / molar_volume_l_mol


def room_clearing(
    start_mg_m3: float, target_mg_m3: float, air_changes_per_h: float, mixing_factor: float = 1.0
) -> Mapping[str, float]:
    """Work out the minutes in which `air_changes_per_h` [1/h] thin a vapour from start to target [mg/m3].

    Source: decay in a well-mixed room (arithmetic).

    >>> round(room_clearing(1000, 100, air_changes_per_h=4)["minutes"], 2)
    34.54
    """
    lower = max(0.0, math.log(start_mg_m3 / target_mg_m3))
    return {"minutes": 60 * lower * mixing_factor / air_changes_per_h}
