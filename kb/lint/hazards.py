"""Check what items say of their own hazards, fire and make-up against what follows from their composition."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from kb.knowledge.catalog import Adhesive, Coating, Degreaser, Mixture, Substance
from kb.knowledge.catalog.surface import Liquid
from kb.knowledge.hazards import MIXED_KINDS, hazards_of
from kb.lint.tree import Tree, of_item, of_item_in_tree

#: A mixture flashes hardly higher than its main solvent [degC]; published flash points differ by as much.
_FLASH_SLACK_C = 3.0
#: From this share [%] a solvent is the main one; to this share of it the mixture's facts are its own.
_MAIN_PCT, _PURE_PCT = 80.0, 96.0
#: What a recipe may leave out: stabiliser, perfume, dye [%].
_LEAST_WHOLE_PCT = 95.0
#: From this share [%] of water a liquid counts as watery.
_WATERY_PCT = 30.0
#: What is as volatile as this at 20 degC dries within minutes, what is less volatile than that takes many [kPa, min].
_FAST, _SLOW = (4.0, 2.0), (2.0, 10.0)


def following(item: Mixture, tree: Tree) -> set[str]:
    """Give the hazard words that follow from an item's composition alone, whatever it says of itself."""
    facts = tree.entries[item.id].facts
    bare = {name: value for name, value in facts.items() if name != "hazards" and not name.startswith("own_hazards.")}
    parts = {
        share.substance: tree.entries[share.substance].facts
        for share in item.composition
        if share.substance in tree.entries
    }
    limits = {
        "mixtures": tree.tables["mixtures"],
        "wording": {},
        "volatile_from_kpa": tree.tables["usage"]["air"]["volatile_from_kpa"],
    }
    return set(hazards_of(bare, parts, limits)["hazards"]) if item.composition else set()


@of_item_in_tree("typed-hazards", Mixture, tip="take `hazards` out; what no composition tells goes under own_hazards")
def typed_hazards(item: Mixture, tree: Tree) -> Iterator[str]:
    """Hazards typed beside a composition that gives others."""
    if item.hazards is None or not item.composition:
        return
    follow = following(item, tree)
    if left_out := follow - set(item.hazards):
        yield f"`hazards` leaves out what follows from its composition: {', '.join(sorted(left_out))}"
    if beyond := set(item.hazards) - follow - set(item.own_hazards):
        yield f"`hazards` says what its composition doesn't give: {', '.join(sorted(beyond))}"


@of_item_in_tree("own-hazard-follows", Mixture, tip="take it out of own_hazards")
def own_hazard_follows(item: Mixture, tree: Tree) -> Iterator[str]:
    """Hazards stated with a reason that the composition gives anyway."""
    for word in sorted(set(item.own_hazards) & following(item, tree)):
        yield f"'{word}' follows from its composition"


@of_item_in_tree(
    "unknown-hazards", Mixture, tip="give a composition, or say `hazards = []` where it is known to have none"
)
def unknown_hazards(item: Mixture, tree: Tree) -> Iterator[str]:
    """Mixtures of which nobody says what they are made of or what harm they do."""
    if item.kind in MIXED_KINDS and "hazards" not in tree.entries[item.id].facts:
        yield "neither its composition nor its hazards are known"


@of_item_in_tree("typed-flammable", Degreaser, tip="take `flammable` out, or mend the flash point")
def typed_flammable(item: Degreaser, tree: Tree) -> Iterator[str]:
    """Degreasers called flammable or not, against their composition or flash point."""
    follows = tree.entries[item.id].facts.get("flammable")
    if item.flammable is not None and follows is not None and item.flammable != follows:
        yield f"`flammable` is {str(item.flammable).lower()}, its composition and flash point say the opposite"


@of_item_in_tree("flash-point", Mixture, tip="take the lowest flash point measured, or state no_flash_point")
def flash_point(item: Mixture, tree: Tree) -> Iterator[str]:
    """Mixtures that are said to flash higher than their main solvent does."""
    if item.flash_point_c is None or not item.composition:
        return
    main = max(item.composition, key=lambda share: share.share_pct)
    solvent = tree.items.get(main.substance)
    flash = solvent.flash_point_c if isinstance(solvent, Substance) else None
    if flash is not None and main.share_pct >= _MAIN_PCT and item.flash_point_c > flash + _FLASH_SLACK_C:
        yield f"it flashes at {item.flash_point_c:g} degC, {main.substance} in it at {flash:g}"


@of_item("substance-twice", Mixture, tip="add the shares up")
def substance_twice(item: Mixture) -> Iterator[str]:
    """Substances that stand twice in one bottle."""
    for (name, part), times in Counter((share.substance, share.part) for share in item.composition).items():
        if times > 1:
            yield f"{name} stands {times} times in part {part}"


@of_item("part-without-ratio", Adhesive, Coating, tip="say parts = 2 with its mix_ratio, or keep to one bottle")
def part_without_ratio(item: Adhesive | Coating) -> Iterator[str]:
    """One-part items with a second bottle."""
    if item.parts == 1 and any(share.part == 2 for share in item.composition):
        yield "has one part, and a substance in part 2"


@of_item("liquid-not-whole", Liquid, tip="name what is missing, water included", shipped=True)
def liquid_not_whole(item: Liquid) -> Iterator[str]:
    """Recipes that leave out more than stabiliser or perfume."""
    total = sum(share.share_pct for share in item.composition)
    if total < _LEAST_WHOLE_PCT:
        yield f"its shares add up to {total:g} %"


@of_item("water-based", Liquid, tip=f"watery is what holds {_WATERY_PCT:g} % of water or more")
def water_based(item: Liquid) -> Iterator[str]:
    """Liquids called watery or not, against their share of water."""
    water = sum(share.share_pct for share in item.composition if share.substance == "water")
    if item.composition and item.water_based != (water >= _WATERY_PCT):
        yield f"it holds {water:g} % of water, and water_based is {str(item.water_based).lower()}"


@of_item_in_tree("degreaser-family", Degreaser, tip="name it after a solvent that is in it")
def degreaser_family(item: Degreaser, tree: Tree) -> Iterator[str]:
    """Degreasers of the family of no solvent that is in them."""
    families = tree.entries[item.id].facts.get("solvent_families", ())
    if item.composition and item.family not in families and item.family != "aqueous-detergent":
        yield f"its family is {item.family}, its solvents are of {', '.join(families) or 'none'}"


@of_item_in_tree("hansen-of-substance", Degreaser, tip="take `hansen` from the substance")
def hansen_of_substance(item: Degreaser, tree: Tree) -> Iterator[str]:
    """Solvents of one substance whose solubility parameters are not that substance's."""
    main = max(item.composition, key=lambda share: share.share_pct, default=None)
    if main is None or main.share_pct < _PURE_PCT or item.hansen is None:
        return
    solvent = tree.items.get(main.substance)
    pure = solvent.hansen if isinstance(solvent, Substance) else None
    if pure is not None and (item.hansen.d, item.hansen.p, item.hansen.h) != (pure.d, pure.p, pure.h):
        yield f"its solubility parameters differ from those of {main.substance}"


@of_item_in_tree("evaporation", Degreaser, tip="evaporation, dry_min and the solvent's vapour pressure go together")
def evaporation(item: Degreaser, tree: Tree) -> Iterator[str]:
    """Solvents said to dry faster or slower than their vapour pressure lets them."""
    main = max(item.composition, key=lambda share: share.share_pct, default=None)
    solvent = tree.items.get(main.substance) if main is not None else None
    pressure = solvent.vapour_pressure_kpa if isinstance(solvent, Substance) else None
    if item.water_based or pressure is None or item.dry_min is None:
        return
    if item.evaporation == "fast" and (pressure < _FAST[0] or item.dry_min > _FAST[1]):
        yield f"called fast, with {pressure:g} kPa and {item.dry_min:g} min"
    if item.evaporation == "slow" and (pressure > _SLOW[0] or item.dry_min < _SLOW[1]):
        yield f"called slow, with {pressure:g} kPa and {item.dry_min:g} min"


@of_item_in_tree("solvent-told", Adhesive, Coating, tip="contains_solvent and what evaporates must agree")
def solvent_told(item: Adhesive | Coating, tree: Tree) -> Iterator[str]:
    """Find items said to hold solvent from which none evaporates."""
    facts = tree.entries[item.id].facts
    vapours = [tree.items.get(share["substance"]) for share in facts.get("vapours", ())]
    solvents = [v for v in vapours if isinstance(v, Substance) and v.family == "solvent" and v.id != "water"]
    if item.contains_solvent and not solvents:
        yield "contains_solvent is true, and no solvent evaporates from it"


@of_item_in_tree("vapour-left-out", Adhesive, Coating, tip="list it under `vapours`, or leave `vapours` out")
def vapour_left_out(item: Adhesive | Coating, tree: Tree) -> Iterator[str]:
    """Volatile solvents that an item is made of and doesn't give off."""
    if item.vapours is None:
        return
    least = tree.tables["usage"]["air"]["volatile_from_kpa"]
    given_off = {vapour.substance for vapour in item.vapours}
    for name in dict.fromkeys(share.substance for share in item.composition):
        part = tree.items.get(name)
        solvent = isinstance(part, Substance) and part.family == "solvent"
        if solvent and name not in given_off and (getattr(part, "vapour_pressure_kpa", None) or 0.0) >= least:
            yield f"is made of {name}, which evaporates, and doesn't give it off"


LINTERS = (
    typed_hazards, own_hazard_follows, unknown_hazards, typed_flammable, flash_point, substance_twice,
    part_without_ratio, liquid_not_whole, water_based, degreaser_family, hansen_of_substance, evaporation, solvent_told,
    vapour_left_out,
)  # fmt: skip
