"""Two-part adhesives and coats in cups that are used up before they gel.

A cup serves what the schedule lays out within its pot life, and what a pot of the mass that the pot life is stated
for holds; it is never smaller than can be weighed in the ratio. The pot life is for the bench's temperature and counts
from when the stirring begins.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import ceil, floor
from typing import Any, NamedTuple

from kb import calc
from kb.knowledge import Entry
from kb.quantities import Remark
from kb.quantities.campaign import Cup

#: Room for rounding, so that 0.3 / 0.1 is three and not a little less.
_SLACK = 1e-9


class Recipe(NamedTuple):
    """What one cup of an item can be.

    `each_g` goes on one installation and `filled_g` into the cup for it; the cup holds from `smallest_g` to `pot_g`, to
    the `resolution_g` of the scale. `pot_life_min` is None where it isn't known.
    """

    entry: Entry
    stage: str
    each_g: float
    filled_g: float
    smallest_g: float
    pot_g: float
    resolution_g: float
    pot_life_min: float | None
    stir_min: float
    remarks: tuple[Remark, ...]

    @property
    def holds(self) -> int:
        """How many installations a pot serves by its mass; one at the least."""
        return max(1, floor(max(self.pot_g, self.smallest_g) / self.filled_g + _SLACK))

    def cup(self) -> Cup:
        """Give a cup as the schedule reckons with it: one an installation where nobody knows how long it keeps."""
        stir_s = round(self.stir_min * 60)
        if self.pot_life_min is None:
            return Cup(stir_s, stir_s, 1)
        return Cup(stir_s, floor(self.pot_life_min * 60), self.holds)

    def together(self, hands_s: int, people: int, attempts: int) -> int:
        """Tell how many installations one cup can serve that wait for it, at `hands_s` [s] each, by so many people.

        They are spread evenly over the cups.
        """
        left_s = self.cup().life - self.cup().stir
        most = max(1, min(attempts, self.holds, people * (left_s // max(hands_s, 1))))
        return ceil(attempts / ceil(attempts / most))

    def mass_g(self, installations: int) -> float:
        """Give the mass [g] of a cup for so many installations."""
        wanted = max(self.smallest_g, installations * self.filled_g)
        return round(ceil(wanted / self.resolution_g - _SLACK) * self.resolution_g, 6)


class Poured(NamedTuple):
    """A cup of a schedule: when its stir begins, when the last of it is under pressure [s], and how many it served."""

    opened_s: int
    done_s: int
    installations: int


class Mix(NamedTuple):
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
    cups: tuple[Poured, ...]


def smallest_mass_g(ratio: tuple[float, float], resolution_g: float, tolerance: float, least_g: float) -> float:
    """Give the smallest mix [g] of which a scale of `resolution_g` [g] weighs the smaller part within `tolerance`.

    Never less than `least_g` [g], the least that can be stirred well.
    A reading is off by half the resolution at most, so that the smaller part weighs at least half the resolution over
    the tolerance. Source: arithmetic.

    >>> smallest_mass_g((1, 1), 0.1, 0.02, 5.0), round(smallest_mass_g((10, 1), 0.1, 0.02, 5.0), 6)
    (5.0, 27.5)
    """
    smaller = resolution_g / 2 / tolerance
    return max(least_g, smaller * sum(ratio) / min(ratio))


def recipe_of(entry: Entry, stage: str, figures: Mapping[str, Any], each_g: float, air_temperature_c: float) -> Recipe:
    """Make the recipe of a two-part item of which an installation takes `each_g` [g], at a bench of that temperature.

    `figures` is the table `mixing` of the usages.
    """
    facts = entry.facts
    remarks: list[Remark] = []
    pot_g = facts.get("pot_mass_g", figures["pot_mass_g"])
    smallest_g, resolution_g = _smallest(entry, figures, pot_g, remarks)
    pot_life = _pot_life(facts, figures, air_temperature_c)
    if pot_life is None:
        remarks.append(_unknown(entry))
    return Recipe(
        entry=entry,
        stage=stage,
        each_g=each_g,
        filled_g=each_g / (1 - figures["cup_pct"] / 100),
        smallest_g=smallest_g,
        pot_g=pot_g,
        resolution_g=resolution_g,
        pot_life_min=pot_life,
        stir_min=figures["stir_min"] + figures["travel_min"],
        remarks=tuple(remarks),
    )


def mix_of(recipe: Recipe, cups: Sequence[Poured]) -> Mix:
    """Tell the cups of a schedule as mixes of one mass, the largest that any of them needs."""
    each = max(cup.installations for cup in cups)
    mass = recipe.mass_g(each)
    used = sum(cup.installations for cup in cups) * recipe.each_g
    life_s = None if recipe.pot_life_min is None else recipe.pot_life_min * 60
    short = [cup for cup in cups if life_s is not None and cup.done_s - cup.opened_s > life_s]
    return Mix(
        entry=recipe.entry,
        stage=recipe.stage,
        number=len(cups),
        mass_g=mass,
        installations_each=each,
        limited_by=_limited_by(recipe, cups, each),
        pot_life_min=recipe.pot_life_min,
        thrown_away_g=max(0.0, len(cups) * mass - used),
        remarks=(*recipe.remarks, *(_too_short(recipe, cup) for cup in short[:1]), *_too_big(recipe, mass)),
        cups=tuple(cups),
    )


def _limited_by(recipe: Recipe, cups: Sequence[Poured], each: int) -> str:
    if recipe.pot_life_min is None:
        return "pot life not known"
    if len(cups) == 1:
        return "batch"
    return "mass" if each == recipe.holds else "pot life"


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


def _smallest(entry: Entry, figures: Mapping[str, Any], pot_g: float, remarks: list[Remark]) -> tuple[float, float]:
    """Give the smallest mix [g], and the resolution [g] of the scale that it needs."""
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
    if smallest(coarse) <= pot_g:
        return smallest(coarse), float(coarse)
    remarks.append(
        Remark(
            "scale-too-coarse",
            "need",
            (entry.id,),
            f"{entry.name} is mixed {ratio[0]:g} to {ratio[1]:g}: a scale of {coarse:g} g weighs no less than "
            f"{smallest(coarse):.3g} g in that ratio, more than the {pot_g:g} g that its pot life holds for",
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


def _too_short(recipe: Recipe, cup: Poured) -> Remark:
    needed = (cup.done_s - cup.opened_s) / 60
    return Remark(
        "pot-life-too-short-for-one",
        "need",
        (recipe.entry.id,),
        f"{recipe.entry.name} keeps {recipe.pot_life_min:.3g} min at this bench; stirring, the way and one gauge take "
        f"{needed:.3g} min",
        "What has begun to gel wets nothing.",
        "cool the bench, mix through a static nozzle at the part, or take a slower grade",
    )


def _too_big(recipe: Recipe, mass: float) -> Iterator[Remark]:
    if mass > recipe.pot_g + _SLACK:
        yield Remark(
            "pot-bigger-than-stated",
            "caution",
            (recipe.entry.id,),
            f"{mass:.3g} g of {recipe.entry.name} in one pot lives shorter than is reckoned here: the pot life is for "
            f"{recipe.pot_g:g} g",
            "Resin that sets heats itself, the more so the more there is; a big pot can smoke.",
            "spread it out in a flat tray, or mix in smaller pots",
        )
