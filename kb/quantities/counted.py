"""In which unit the estimate counts an item, and how much a millilitre of it weighs."""

from __future__ import annotations

from math import fsum

from kb.knowledge import Entry, Knowledge
from kb.knowledge.packing import unpack
from kb.rules.clauses import all_of
from kb.rules.roles import ROLES

#: Shares that add up to so much [%] say what a liquid weighs: a rest twice as heavy would shift it by 3 %.
_WHOLE_PCT = 95
#: What stands for a part of a liquid of which nobody has said what it weighs: water, heavier than most solvents.
_WATER_G_ML = 1.0


def unit_of(entry: Entry, knowledge: Knowledge) -> str | None:
    """Give the unit that the rows of generic_catalog/usage/ count an item in; None where none of them is about it.

    >>> from kb.knowledge import load
    >>> known = load()
    >>> unit_of(known.entry("acetone"), known), unit_of(known.entry("cotton-swab"), known)
    ('mL', 'piece')
    """
    names = (entry.id, entry.facts.get("like"))
    for row in knowledge.tables["usage"]["rows"]:
        aid, role = row["aid"], row["role"]
        if aid is not None or role is None:
            found = aid in names
        else:
            scene = {role: {**entry.facts, "present": True}}
            conditions = (unpack(packed).truth(scene) for packed in row["when"])
            found = entry.kind in ROLES[role].kinds and all_of(conditions) is not False
        if found:
            return str(row["unit"])
    return None


def density_g_ml(entry: Entry, knowledge: Knowledge) -> float | None:
    """Give what a millilitre weighs [g]: as the item says, or from what it is made of; None where that isn't known.

    The volumes of what a liquid is made of, or mixed from, are taken to add up, which is right to a few per cent.

    >>> from kb.knowledge import load
    >>> known = load()
    >>> round(density_g_ml(known.entry("isopropyl-alcohol"), known), 3)
    0.789
    """
    own: float | None = entry.facts.get("density_g_ml")
    if own is not None:
        return own
    bottles = [_of_bottle(entry, part, knowledge) for part in _bottles(entry)]
    if None in bottles:
        return _with_solids(entry, knowledge)
    shares = entry.facts.get("mix_ratio") or (1.0,)
    if len(shares) != len(bottles):
        return None
    return fsum(shares) / fsum(share / heavy for share, heavy in zip(shares, bottles, strict=True) if heavy)


def _bottles(entry: Entry) -> range:
    """Give the numbers of the bottles that an item is mixed from, as its composition counts them."""
    named = (part.get("part", 1) for part in entry.facts.get("composition", ()))
    return range(1, 1 + max(len(entry.facts.get("mix_ratio") or ()), *named, 1))


def _of_bottle(entry: Entry, bottle: int, knowledge: Knowledge) -> float | None:
    """Tell what a millilitre out of one bottle weighs [g]; None where not all is named of what is in it."""
    parts = [part for part in entry.facts.get("composition", ()) if part.get("part", 1) == bottle]
    whole = fsum(part["share_pct"] for part in parts)
    if whole < _WHOLE_PCT:
        return None
    volumes = []
    for part in parts:
        density = knowledge.entry(part["substance"]).facts.get("density_g_ml")
        if density is None:
            return None
        volumes.append(part["share_pct"] / density)
    return whole / fsum(volumes)


def _with_solids(entry: Entry, knowledge: Knowledge) -> float | None:
    """Tell what a millilitre of a coat weighs [g] of which what stays, and all that leaves it, is known; else None."""
    solid, leaves = entry.facts.get("density_g_cm3"), entry.facts.get("vapours")
    if leaves is None and entry.facts.get("contains_solvent") is False:
        leaves = ()
    if solid is None or leaves is None:
        return None
    light = [knowledge.entry(part["substance"]).facts.get("density_g_ml") for part in leaves]
    if None in light:
        return None
    left_pct = 100 - fsum(part["share_pct"] for part in leaves)
    return 100 / fsum((left_pct / solid, *(p["share_pct"] / ml for p, ml in zip(leaves, light, strict=True))))


def assumed_density_g_ml(entry: Entry, knowledge: Knowledge) -> float:
    """Give what a millilitre weighs [g]; where that isn't known, what it is taken for, with the untold rest as water.

    >>> from kb.knowledge import load
    >>> known = load()
    >>> round(assumed_density_g_ml(known.entry("isopropyl-alcohol"), known), 3)
    0.789
    """
    known = density_g_ml(entry, knowledge)
    if known is not None:
        return known
    parts = entry.facts.get("vapours" if entry.kind in ("adhesive", "coating") else "composition", ())
    densities = (knowledge.entries[part["substance"]].facts.get("density_g_ml", _WATER_G_ML) for part in parts)
    volume = fsum(part["share_pct"] / density for part, density in zip(parts, densities, strict=True))
    untold_pct = max(0.0, 100 - fsum(part["share_pct"] for part in parts))
    return 100 / (volume + untold_pct / _WATER_G_ML)
