"""Two-part adhesives and coats in mixes that are used up before they gel.

A mix serves what can be laid out in its pot life, and what a pot of the mass that the pot life is stated for
holds; it is never smaller than can be weighed in the ratio. The pot life is for the bench's temperature.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import ceil, floor
from typing import Any

from kb import calc
from kb.knowledge import Entry
from kb.quantities import Remark

#: Room for rounding, so that 0.3 / 0.1 is three and not a little less.
_SLACK = 1e-9


@dataclass(frozen=True)
class Mix:
    """`number` mixes of `mass_g` [g] each, for `installations_each` at most; what is never used is `thrown_away_g`."""

    entry: Entry
    stage: str
    number: int
    mass_g: float
    installations_each: int
    limited_by: str
    pot_life_min: float | None
    thrown_away_g: float
    remarks: tuple[Remark, ...]


def smallest_mass_g(ratio: tuple[float, float], resolution_g: float, tolerance: float, least_g: float) -> float:
    """The smallest mix [g] of which a scale of `resolution_g` [g] weighs the smaller part within `tolerance`.

    Never less than `least_g` [g], the least that can be stirred well.
    A reading is off by half the resolution at most, so that the smaller part weighs at least half the resolution over
    the tolerance. Source: arithmetic.

    >>> smallest_mass_g((1, 1), 0.1, 0.02, 5.0), round(smallest_mass_g((10, 1), 0.1, 0.02, 5.0), 6)
    (5.0, 27.5)
    """
    smaller = resolution_g / 2 / tolerance
    return max(least_g, smaller * sum(ratio) / min(ratio))


def mix_of(
    entry: Entry,
    stage: str,
    figures: Mapping[str, Any],
    *,
    each_g: float,
    attempts: int,
    technicians: int,
    air_temperature_c: float,
    minutes_each: float,
) -> Mix:
    """The mixes of a two-part item for `attempts` installations that take `each_g` [g] and `minutes_each` [min] each.

    `figures` is the table `mixing` of the usages; `technicians` lay out side by side from one cup.
    """
    facts = entry.facts
    remarks: list[Remark] = []
    pot_mass = facts.get("pot_mass_g", figures["pot_mass_g"])
    smallest, resolution = _smallest(entry, figures, pot_mass, remarks)
    filled = each_g / (1 - figures["cup_pct"] / 100)
    bounds = {"batch": attempts, "mass": floor(max(pot_mass, smallest) / filled + _SLACK)}
    pot_life = _pot_life(facts, figures, air_temperature_c)
    if pot_life is None:
        bounds["pot life not known"] = technicians
        remarks.append(_unknown(entry))
    else:
        left = pot_life - figures["stir_min"] - figures["travel_min"]
        bounds["pot life"] = technicians * floor(left / minutes_each + _SLACK)
        if bounds["pot life"] < 1:
            remarks.append(_too_short(entry, pot_life, figures, minutes_each))
    limited_by = min(bounds, key=lambda name: bounds[name])
    number = ceil(attempts / max(1, bounds[limited_by]))
    each = ceil(attempts / number)
    mass = ceil(max(smallest, each * filled) / resolution - _SLACK) * resolution
    thrown = max(0.0, number * mass - attempts * each_g)
    remarks += _too_big(entry, mass, pot_mass)
    return Mix(entry, stage, number, round(mass, 6), each, limited_by, pot_life, thrown, tuple(remarks))


def _pot_life(facts: Mapping[str, Any], figures: Mapping[str, Any], air_temperature_c: float) -> float | None:
    if "pot_life_min" not in facts:
        return None
    found = calc.function("pot-life")(
        pot_life_min=facts["pot_life_min"],
        temperature_c=air_temperature_c,
        reference_c=figures["reference_c"],
        q10=facts.get("rate_q10", figures["q10"]),
    )
    return float(found["pot_life_min"])


def _smallest(entry: Entry, figures: Mapping[str, Any], pot_mass: float, remarks: list[Remark]) -> tuple[float, float]:
    """The smallest mix [g], and the resolution [g] of the scale that it needs."""
    ratio = entry.facts.get("mix_ratio")
    if ratio is None:
        remarks.append(
            Remark(
                "mixing-ratio-not-known",
                "caution",
                (entry.id,),
                f"the mixing ratio of {entry.name} is not known: what must be weighed at least can't be said",
                "A ratio that is off leaves soft spots.",
                "take the ratio from its data sheet",
            )
        )
        return float(figures["smallest_g"]), float(figures["resolution_g"])

    def smallest(resolution: float) -> float:
        return smallest_mass_g(ratio, resolution, figures["ratio_tolerance"], figures["smallest_g"])

    coarse, fine = figures["resolution_g"], figures["fine_resolution_g"]
    if smallest(coarse) <= pot_mass:
        return smallest(coarse), float(coarse)
    remarks.append(
        Remark(
            "scale-too-coarse",
            "need",
            (entry.id,),
            f"{entry.name} is mixed {ratio[0]:g} to {ratio[1]:g}: a scale of {coarse:g} g weighs no less than "
            f"{smallest(coarse):.3g} g in that ratio, more than the {pot_mass:g} g that its pot life holds for",
            "The smaller part must be right within the ratio's tolerance, and a bigger pot heats itself.",
            f"weigh on a scale of {fine:g} g, or take packs that are weighed already",
        )
    )
    return smallest(fine), float(fine)


def _unknown(entry: Entry) -> Remark:
    return Remark(
        "pot-life-not-known",
        "caution",
        (entry.id,),
        f"the pot life of {entry.name} is not known: mix for one installation at a time",
        "What has begun to gel wets nothing.",
        "take the pot life from its data sheet",
    )


def _too_short(entry: Entry, pot_life: float, figures: Mapping[str, Any], minutes_each: float) -> Remark:
    needed = figures["stir_min"] + figures["travel_min"] + minutes_each
    return Remark(
        "pot-life-too-short-for-one",
        "need",
        (entry.id,),
        f"{entry.name} keeps {pot_life:.3g} min at this bench; stirring, the way and one gauge take {needed:.3g} min",
        "What has begun to gel wets nothing.",
        "cool the bench, mix through a static nozzle at the part, or take a slower grade",
    )


def _too_big(entry: Entry, mass: float, pot_mass: float) -> Iterator[Remark]:
    if mass > pot_mass + _SLACK:
        yield Remark(
            "pot-bigger-than-stated",
            "caution",
            (entry.id,),
            f"{mass:.3g} g of {entry.name} in one pot lives shorter than is reckoned here: the pot life is for "
            f"{pot_mass:g} g",
            "Resin that sets heats itself, the more so the more there is; a big pot can smoke.",
            "spread it out in a flat tray, or mix in smaller pots",
        )
