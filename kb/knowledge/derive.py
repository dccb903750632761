"""Facts that follow from an item's other facts, and from the substances that it is made of.

Each is arithmetic on what the catalog says (a unit, a mean over a mixture); nothing here is knowledge of its own.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import ceil
from typing import Any

from kb.base.surroundings import exposures, kinds_facts
from kb.knowledge.hazards import DERIVED_HAZARDS
from kb.rules.clauses import Facts, Value

#: Ranges whose two ends rules read apart.
SPANS = ("humidity_window_pct", "part_window_c", "storage_c")
#: What rules read of the material below a layer.
BASE = (
    "family", "metallic", "water_harms", "acid_sensitive", "alkali_sensitive", "ammonia_sensitive",
    "hydrogen_sensitive", "dust_hazard",
)  # fmt: skip
#: Kinds that set: only what leaves them is a liquid to their neighbours.
_SETTING = ("adhesive", "coating")
#: What only some substrates have: nylon swells, PTFE changes its form, a plated part has a base, glass has none of it.
STATED = (
    "base", "brittle_below_c", "decomposes_at_c", "glass_transition_wet_c", "max_continuous_c", "max_loaded_c",
    "melts_at_c", "oxidises_in_air_at_c", "swelling_ue", "transforms_at_c",
)  # fmt: skip
#: What is known of only some coats.
STATED_OF_COAT = ("recoat_min",)
#: Every name that `derived` and `hazards_of` may give.
DERIVED = (
    "thickness_mm",
    "bond_line_mm",
    "elongation_ue",
    "cold_elongation_ue",
    "vapour_g_m2_d",
    "short_min_c",
    "short_max_c",
    "warming_min",
    *(f"{span}.{end}" for span in SPANS for end in ("low", "high")),
    "hansen.dph",
    "vapours",
    "volatile_pct",
    "substances",
    "solvent_families",
    "main_solvent_families",
    "swelling_ue",
    "lookalike_dust_hazard",
    "stated",
    *(f"base_{name}" for name in BASE),
    "ruined_by",
    "worn_by",
    *(f"{state}_in.{exposure}" for state in ("ruined", "worn", "good") for exposure in kinds_facts()),
    "grade_limits",
    "through_limits",
    *DERIVED_HAZARDS,
    "resists_well",
)
#: What follows from a way to cure, and from which of its values.
OF_CURE = {
    "hottest_c": ("temperature_c", "post_cure_c"),
    "warming_min": ("temperature_c", "warms_c_per_min"),
    "post_warming_min": ("post_cure_c", "warms_c_per_min"),
}
#: From and to what a part is warmed and cooled, in a room [degC].
ROOM_C = 20.0
#: What a grade of resistance is limited by, and the figure of a job that it is held to.
LIMITED = {
    "up_to_c": "high_c",
    "for_three_days_c": "three_days_c",
    "for_days": "days",
    "concentration_pct": "concentration_pct",
    "dose_kgy": "dose_kgy",
}


def derived(
    item: Facts, items: Mapping[str, Facts], volatile_from_kpa: float = 0.0, main_from_pct: float = 0.0
) -> dict[str, Value]:
    """Derive what follows from `item`, by dotted name. `items` holds the facts of every item by id.

    - `thickness_mm`, `bond_line_mm`: from micrometres.
    - `elongation_ue`, `cold_elongation_ue`: from percent to microstrain.
    - `vapour_g_m2_d`: water vapour through a coat of its own thickness.
    - `humidity_window_pct.low`, `.high` and the like: the ends of a range.
    - `hansen.dph`: [dD, dP, dH] in MPa^0.5; for a mixture the mean by volume of its substances,
      where parameters and density of all that evaporates are known.
    - `vapours`: what evaporates, with its share of the item as it is used: as stated, else what of its composition
      has a vapour pressure of `volatile_from_kpa` or more (or one that isn't known); `volatile_pct`: their sum;
      `solvent_families`: the degreaser families that these belong to; `main_solvent_families`: those that make up
      `main_from_pct` or more of it, by which it dissolves.
    - `warming_min`: from the room to the heat at which a coat is baked, and as long again back.
    - `short_min_c`, `short_max_c`: what is stood for long is stood for a short time, unless a further figure is given.
    - `swelling_ue`: strain of a substrate from dry to full of water.
    - `lookalike_dust_hazard`: what is in the dust of look-alikes of a substrate and not in its own.
    - `stated`: what only some substrates have, or what is known of only some coats, and is stated of this one.
    - `base_family` and the like: facts of the material below a layer.
    - `ruined_by`, `worn_by`, `resists_well`: the exposures that it stands poorly, only fairly, and well;
      `ruined_in.solvent-splash` and the like: the kinds of one exposure.
    - `grade_limits`: [exposure, figure, most] of what its grades hold for; `through_limits`: those of exposures that
      reach every layer.
    - `substances`: ids of all that it is made of and gives off.

    >>> derived({"thickness_um": 25.0}, {})
    {'thickness_mm': 0.025}
    >>> found = derived({"resists.alkali": "poor", "resists.steam": "fair", "resists.steam.up_to_c": 120.0}, {})
    >>> found["ruined_by"], found["worn_by"], found["grade_limits"]
    (['alkali'], ['steam'], [('steam', 'high_c', 120.0)])
    """
    found: dict[str, Value] = {}
    for name in ("thickness", "bond_line"):
        if f"{name}_um" in item:
            found[f"{name}_mm"] = item[f"{name}_um"] / 1000
    for name in ("elongation", "cold_elongation"):
        if f"{name}_pct" in item:
            found[f"{name}_ue"] = item[f"{name}_pct"] * 1e4
    if "vapour_g_mm_m2_d" in item and "thickness_um" in item:
        found["vapour_g_m2_d"] = round(item["vapour_g_mm_m2_d"] * 1000 / item["thickness_um"], 3)
    for name in SPANS:
        if name in item:
            found[f"{name}.low"], found[f"{name}.high"] = item[name]
    dph = [item.get(f"hansen.{axis}") for axis in "dph"]
    if None not in dph:
        found["hansen.dph"] = dph
    vapours = item.get("vapours", evaporating(item, items, volatile_from_kpa))
    made_of = item.get("composition", ())
    if made_of or vapours:
        # Of a glue or a coat the solvent that leaves it is what attacks; a liquid acts as a whole.
        mixed = mixture_hansen(vapours if item["kind"] in _SETTING else made_of, items)
        if mixed is not None:
            found.setdefault("hansen.dph", mixed)
        found["vapours"] = vapours
        found["volatile_pct"] = sum(share["share_pct"] for share in vapours)
        found["substances"] = list(dict.fromkeys(share["substance"] for share in (*vapours, *made_of)))
        families: dict[str, float] = {}
        for share in vapours:
            if family := items.get(share["substance"], {}).get("solvent_family", ""):
                families[family] = families.get(family, 0.0) + share["share_pct"]
        found["solvent_families"] = sorted(families)
        found["main_solvent_families"] = sorted(name for name, pct in families.items() if pct >= main_from_pct)
    if "water_uptake_pct" in item and "swelling_ue_per_pct" in item:
        found["swelling_ue"] = round(item["water_uptake_pct"] * item["swelling_ue_per_pct"])
    for end in ("min_c", "max_c"):
        if end in item:
            found[f"short_{end}"] = item[end]
    if "cure_temperature_c" in item and "warms_c_per_min" in item:
        found["warming_min"] = warming_min(item["cure_temperature_c"], item["warms_c_per_min"])
    found |= _resistance({name.removeprefix("resists."): item[name] for name in item if name.startswith("resists.")})
    if "looks_like" in item:
        alike = (word for other in item["looks_like"] for word in items.get(other, {}).get("dust_hazard", ()))
        found["lookalike_dust_hazard"] = [w for w in dict.fromkeys(alike) if w not in item.get("dust_hazard", ())]
    if "polymer_structure" in item or "dust_hazard" in item:
        found["stated"] = [name for name in STATED if name in item or name in found]
    elif item.get("kind") == "coating":
        found["stated"] = [name for name in STATED_OF_COAT if name in item]
    below = items.get(item.get("base", ""), {})
    return found | {f"base_{name}": below[name] for name in BASE if name in below}


def cured(cure: Facts) -> dict[str, Value]:
    """Give a way to cure with what follows from it.

    - `hottest_c` [degC]: the hottest that the part gets, in the cure or after it.
    - `warming_min`, `post_warming_min`: from the room to the heat of the cure or post-cure, and as long again back.

    >>> warm = cured({"temperature_c": 23, "post_cure_c": 80, "warms_c_per_min": (2, 5)})
    >>> warm["hottest_c"], warm["warming_min"], warm["post_warming_min"]
    (80, 2, 30)
    """
    hot, post_c, rates = cure["temperature_c"], cure.get("post_cure_c"), cure["warms_c_per_min"]
    post = {} if post_c is None else {"post_warming_min": warming_min(post_c, rates)}
    return {
        **cure,
        "hottest_c": hot if post_c is None else max(hot, post_c),
        "warming_min": warming_min(hot, rates),
        **post,
    }


def warming_min(to_c: float, rates: Sequence[float]) -> int:
    """Work out the minutes that a part takes from the room to a heat [degC], at the slower of two rates [degC/min].

    >>> warming_min(120, (2, 5)), warming_min(10, (2, 5))
    (50, 0)
    """
    return max(0, ceil((to_c - ROOM_C) / rates[0]))


def _resistance(told: Facts) -> dict[str, Any]:
    """Tell what follows from an item's grades of resistance; nothing where it has none."""
    if not told:
        return {}
    grades = {name: grade for name, grade in told.items() if "." not in name}
    found: dict[str, Any] = {
        "ruined_by": [exposure for exposure, grade in grades.items() if grade == "poor"],
        "worn_by": [exposure for exposure, grade in grades.items() if grade == "fair"],
        "resists_well": [exposure for exposure, grade in grades.items() if grade == "good"],
    }
    for exposure in kinds_facts():
        if exposure in grades:
            by_kind = {k: told.get(f"{exposure}.except.{k}", grades[exposure]) for k in exposures()[exposure].kinds}
            found[f"ruined_in.{exposure}"] = [kind for kind, grade in by_kind.items() if grade == "poor"]
            found[f"worn_in.{exposure}"] = [kind for kind, grade in by_kind.items() if grade == "fair"]
            found[f"good_in.{exposure}"] = [kind for kind, grade in by_kind.items() if grade == "good"]
    limits = [(*name.split("."), most) for name, most in told.items() if name.partition(".")[2] in LIMITED]
    found["grade_limits"] = [(exposure, LIMITED[by], most) for exposure, by, most in limits]
    found["through_limits"] = [row for row in found["grade_limits"] if exposures()[row[0]].through]
    return found


def evaporating(item: Facts, items: Mapping[str, Facts], from_kpa: float) -> Sequence[Facts]:
    """List what of a composition evaporates, by share of the item as it is used: of two bottles, of their mix."""
    ratio = item.get("mix_ratio")
    found: dict[str, float] = {}
    for share in item.get("composition", ()):
        pressure = items.get(share["substance"], {}).get("vapour_pressure_kpa")
        if pressure is None or pressure >= from_kpa:
            of_mix = ratio[share.get("part", 1) - 1] / sum(ratio) if ratio else 1.0
            found[share["substance"]] = found.get(share["substance"], 0.0) + share["share_pct"] * of_mix
    return [{"substance": name, "share_pct": pct} for name, pct in found.items()]


def mixture_hansen(composition: Value, items: Mapping[str, Facts]) -> list[float] | None:
    """Average solubility parameters of a mixture [MPa^0.5] by volume; None where a part's aren't known.

    Hansen's mixing rule: parameters of a mixture are the volume-weighted means of its parts'.

    >>> parts = {"a": {"hansen.d": 16.0, "hansen.p": 0.0, "hansen.h": 0.0, "density_g_ml": 1.0},
    ...          "b": {"hansen.d": 14.0, "hansen.p": 10.0, "hansen.h": 8.0, "density_g_ml": 1.0}}
    >>> mixture_hansen([{"substance": "a", "share_pct": 50}, {"substance": "b", "share_pct": 50}], parts)
    [15.0, 5.0, 4.0]
    """
    total, sums = 0.0, [0.0, 0.0, 0.0]
    for share in composition:
        part = items.get(share["substance"], {})
        values = [part.get(f"hansen.{axis}") for axis in "dph"]
        density = part.get("density_g_ml")
        if None in values or not density:
            return None
        volume = share["share_pct"] / density
        total += volume
        sums = [s + volume * float(v or 0.0) for s, v in zip(sums, values, strict=True)]
    return [round(s / total, 3) for s in sums] if total else None
