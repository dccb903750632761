"""Each linter of items finds its bad example, and lets the item pass that the example was made from."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from kb.knowledge import Entry, load
from kb.knowledge.cache import roots
from kb.knowledge.catalog import Item, as_facts
from kb.knowledge.hazards import DERIVED_HAZARDS
from kb.lint import LINTERS, linters_in, plant, run
from kb.lint.tree import Tree


@pytest.fixture(scope="module")
def tree() -> Tree:
    return plant(roots(None))


def changed(tree: Tree, item_id: str, **over: Any) -> Tree:
    """The tree with an item that is like another but for `over`, checked by its model."""
    kind = type(tree.items[item_id])
    data = {**tree.items[item_id].model_dump(mode="json", exclude_none=True), "id": "made-up", **over}
    item: Item = kind.model_validate({k: v for k, v in data.items() if v is not None})
    known = tree.entries[item_id].facts
    # What follows from a composition stands, whatever is typed beside it.
    facts = {**known, **as_facts(item), **{name: known[name] for name in DERIVED_HAZARDS if name in known}}
    entry = Entry("made-up", item.kind, item.family, item.name, {k: _frozen(v) for k, v in facts.items()})
    return replace(tree, items={**tree.items, "made-up": item}, entries={**tree.entries, "made-up": entry})


def _frozen(value: Any) -> Any:
    return tuple(map(_frozen, value)) if isinstance(value, list) else value


def row(**over: Any) -> dict[str, Any]:
    """A row of a list of limits."""
    known = {"list": "a list", "jurisdiction": "eu", "kind": "twa-8h", "ppm": 50, "source": "s", "as_of": "2026-01-01"}
    return {k: v for k, v in {**known, **over}.items() if v is not None}


def cure(tree: Tree, item_id: str, **over: Any) -> list[dict[str, Any]]:
    """An adhesive's cures, the first of them changed."""
    cures = [s.model_dump(mode="json") for s in tree.items[item_id].schedules]  # type: ignore[attr-defined]
    return [{**cures[0], **over}, *cures[1:]]


PART_2 = {"part": 2}
TWO = "epoxy-heat-cure-two-part"
BAD: list[tuple[str, str, dict[str, Any]]] = [
    ("typed-hazards", "acetone", {"hazards": []}),
    ("typed-hazards", "acetone", {"hazards": ["flammable", "irritant", "narcotic", "chromate"]}),
    ("own-hazard-follows", "acetone", {"own_hazards": {"flammable": "it burns"}}),
    ("typed-flammable", "acetone", {"flammable": False}),
    ("flash-point", "acetone", {"flash_point_c": -10}),
    ("substance-twice", "acetone", {"composition": [{"substance": "propanone", "share_pct": 50}] * 2}),
    (
        "part-without-ratio",
        "acrylic-lacquer-fast",
        {"composition": [{"substance": "water", "share_pct": 5, "part": 2}]},
    ),
    ("liquid-not-whole", "acetone", {"composition": [{"substance": "propanone", "share_pct": 94}]}),
    ("water-based", "acetone", {"water_based": True}),
    ("degreaser-family", "acetone", {"family": "ester"}),
    ("hansen-of-substance", "acetone", {"hansen": {"d": 15.5, "p": 10.4, "h": 9.0}}),
    ("evaporation", "acetone", {"dry_min": 30}),
    ("evaporation", "white-spirit", {"evaporation": "fast"}),
    ("vapour-left-out", "acrylic-lacquer-fast", {"vapours": []}),
    ("registry-number", "toluene", {"cas": "108-88-4"}),
    ("substance-bounds", "toluene", {"density_g_ml": 867}),
    ("vapour-and-boiling", "toluene", {"vapour_pressure_kpa": 2919}),
    ("fire-statement", "toluene", {"flash_point_c": 24, "ranges": {}}),
    ("fire-statement", "toluene", {"boiling_point_c": 35}),
    ("explosive-limit", "toluene", {"lel_pct": 9, "ranges": {}}),
    ("explosive-limit", "toluene", {"lel_pct": None, "ranges": {}}),
    ("limit-row", "toluene", {"limits": [row(mg_m3=50)]}),
    ("limit-row", "toluene", {"limits": [row(as_of="lately")]}),
    ("limit-row", "toluene", {"limits": [row(), row(ppm=20)]}),
    ("short-limit", "toluene", {"limits": [row(), row(kind="stel-15min", ppm=49)]}),
    ("reactive-group", "toluene", {"reactive_groups": ["aromatics"]}),
    ("no-reactive-group", "toluene", {"reactive_groups": None}),
    ("cautious-end", "toluene", {"lel_pct": 1.1}),
    ("cautious-end", "xylene", {"vapour_pressure_kpa": 0.7}),
    ("heat-range", "carbon-steel", {"ranges": {"max_temperature_c": [50, 2000]}}),
    ("span-upwards", "acetone", {"storage_c": [30, 5]}),
    ("span-upwards", TWO, {"schedules": "pressure_kpa = [200, 70]"}),
    ("opened-life", "acetone", {"opened_life_days": 10000}),
    ("unrated-exposure", TWO, {"resists": {"dry-air": "good"}}),
    ("basis-without-value", "acetone", {"field_basis": [{"fields": ["ph"], "basis": "memory"}]}),
    ("summary", "acetone", {"summary": "a solvent"}),
    ("few-names", "carbon-steel", {"aliases": ["iron"]}),
    ("alias-form", "acetone", {"aliases": [" padded"]}),
    ("unknown-relative", "anodised-aluminium", {"base": "unobtainium"}),
    ("unknown-relative", "carbon-steel", {"looks_like": ["made-up"]}),
    ("class-word-alias", "carbon-steel", {"aliases": ["stainless", "mild steel", "plain carbon steel"]}),
    ("foreign-family", "silane-primer", {"treats": ["brick"]}),
    ("cure-order", TWO, {"schedules": "temperature_c = 200"}),
    ("cure-limits", TWO, {"schedules": "full_strength_min = 1"}),
    ("cure-limits", TWO, {"schedules": "post_cure_min = 60"}),
    ("no-short-limit", TWO, {"schedules": "short_max_c = None"}),
    ("backing-stands-no-cure", "polyimide-film-25um", {"cure_max_c": 5}),
    ("wire-without-joint", "vinyl-lead-single", {"max_c": 600, "short_max_c": 700, "ranges": {}}),
    ("joint-without-flux", "tin-lead-eutectic", {"joint_at_c": 600, "ranges": {}}),
    ("flux-remover", "no-clean-flux", {"removed_with": ["turpentine"]}),
    ("grain-size", "silicon-carbide-p400", {"mean_um": 23}),
    ("grain-size", "silicon-carbide-p400", {"grade": "P401"}),
    ("treatment-purpose", "silane-primer", {"couples": False}),
    ("treatment-purpose", "cyanoacrylate-accelerator", {"serves": []}),
]


def _over(tree: Tree, item_id: str, over: dict[str, Any]) -> dict[str, Any]:
    """`over` with a change of the first cure spelt out."""
    if not isinstance(over.get("schedules"), str):
        return over
    name, _, value = over["schedules"].partition(" = ")
    return {"schedules": cure(tree, item_id, **{name: eval(value)})}


@pytest.mark.parametrize(("name", "item_id", "over"), BAD, ids=[f"{n}-{i}" for i, (n, _, _) in enumerate(BAD)])
def test_a_bad_item_is_found_and_the_good_one_is_not(name: str, item_id: str, over: dict[str, Any], tree: Tree) -> None:
    found = run(changed(tree, item_id, **_over(tree, item_id, over)), [LINTERS[name]])
    assert {p.where for p in found} == {"made-up"}
    assert all(p.what and p.tip for p in found)
    assert run(changed(tree, item_id), [LINTERS[name]]) == []


def test_mixtures_of_nobody_knows_what_are_found(tree: Tree) -> None:
    bare = changed(tree, "parylene-c-type")
    facts = {k: v for k, v in bare.entries["made-up"].facts.items() if k != "hazards"}
    bare = replace(bare, entries={**bare.entries, "made-up": bare.entries["made-up"]._replace(facts=facts)})
    assert [p.where for p in run(bare, [LINTERS["unknown-hazards"]])] == ["made-up"]


def test_solvent_that_does_not_evaporate_is_found(tree: Tree) -> None:
    made = changed(tree, "acrylic-lacquer-fast")
    entry = made.entries["made-up"]
    dry = entry._replace(facts={**entry.facts, "vapours": ()})
    found = run(replace(made, entries={**made.entries, "made-up": dry}), [LINTERS["solvent-told"]])
    assert [p.where for p in found] == ["made-up"]


def test_an_empty_family_and_one_that_bonds_nothing_are_found(tree: Tree) -> None:
    fewer = {i: e for i, e in tree.entries.items() if e.family != "parylene"}
    assert {p.where for p in run(replace(tree, entries=fewer), [LINTERS["empty-family"]])} == {"coating/parylene"}
    items = {i: item for i, item in tree.items.items() if item.kind != "backing"}
    assert run(replace(tree, items=items), [LINTERS["unbonded-family"]])


def test_every_linter_of_items_has_its_bad_example() -> None:
    named = {name for name, _, _ in BAD} | {"unknown-hazards", "solvent-told"}
    owed = {name for name, linter in LINTERS.items() if linter.scope == "item"} - named
    assert not owed


THINNER = """
id = "our-thinner"
name = "our thinner"
family = "aliphatic-hydrocarbon"
basis = "memory"
hazards = []
composition = [{ substance = "n-hexane", share_pct = 60 }, { substance = "toluene", share_pct = 40 }]
water_based = false
flammable = false
evaporation = "fast"
residue = "none"
needs_rinse = false
dry_min = 1
"""


@pytest.fixture
def thinner(house: Path) -> Path:
    (house / "catalog" / "degreaser").mkdir()
    (house / "catalog" / "degreaser" / "our-thinner.toml").write_text(THINNER)
    return house


def test_a_labs_own_thinner_fails_the_lint(thinner: Path) -> None:
    """Hexane and toluene, "no hazards, not flammable": the composition says otherwise."""
    linters = [linter for linter in linters_in(roots(thinner)) if linter.name != "dead-item"]
    problems = [p for p in run(plant(roots(thinner)), linters) if p.where == "our-thinner"]
    assert {p.check for p in problems} == {"typed-hazards", "typed-flammable"}


def test_a_labs_own_thinner_carries_its_hazards_all_the_same(thinner: Path) -> None:
    facts = load(thinner).entries["our-thinner"].facts
    assert facts["flammable"] is True
    assert {"flammable", "toxic", "reproductive-toxicant", "narcotic"} <= set(facts["hazards"])
    assert {"H225", "H304", "H361f", "H361d", "H372"} <= set(facts["hazard_statements"])
