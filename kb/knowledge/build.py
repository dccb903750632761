"""Building the knowledge from its files: items to flat facts, rules to clauses, and what follows from both."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import cast

from kb.base.errors import BadInput, near_or_all, nearest
from kb.base.files import read_toml, validated
from kb.base.units import converted
from kb.knowledge.asked import load_asked
from kb.knowledge.catalog import Item, Substrate, as_facts
from kb.knowledge.catalog.files import load_items, load_sources
from kb.knowledge.derive import cured, derived
from kb.knowledge.hazards import hazards_of
from kb.knowledge.index import HEAT, index_of
from kb.knowledge.lookup import by_name, told_apart
from kb.knowledge.name_tables import WordsTable
from kb.knowledge.packing import pack_rule
from kb.knowledge.questions import load_questions
from kb.knowledge.ranking import limits_of, load_ranking
from kb.knowledge.reactivity import load_reactivity
from kb.knowledge.spreads import load_spreads
from kb.knowledge.steps import load_steps, reads
from kb.knowledge.tables import Compiled
from kb.knowledge.usage import load_usage
from kb.rules.clauses import Facts, Value
from kb.rules.form import load_rules
from kb.rules.rule import Rule
from kb.rules.values import CURES

#: Stands for what a model of a substrate must have, where it isn't known.
_LENT = {"family": "carbon-steel", "organic": False, "metallic": False, "polymer_structure": "not-a-polymer"}


def build(where: Mapping[str, Path]) -> Compiled:
    """Read everything into plain values: entries, rules, sources, tables, and notes for every answer.

    `where` names the folders: "rules", "generic_catalog" and, where a lab has its own, "house rules" and
    "house catalog". Raises BadInput at the first broken file.
    """
    items = items_of(where)
    facts = {item_id: _stated(item) for item_id, item in items.items()}
    catalog = where["generic_catalog"]
    usage = load_usage(catalog / "usage", {item_id: item.kind for item_id, item in items.items()})
    volatile_from_kpa, main_from_pct = usage["air"]["volatile_from_kpa"], usage["air"]["main_from_pct"]
    tables = {
        "mixtures": read_toml(catalog / "mixtures.toml", "generic_catalog/mixtures.toml"),
        "wording": read_toml(catalog / "hazard_statements.toml", "generic_catalog/hazard_statements.toml")[
            "statements"
        ],
        "volatile_from_kpa": volatile_from_kpa,
    }
    entries = [
        (
            item_id,
            known["kind"],
            known["family"],
            known["name"],
            _frozen(
                {**derived(known, facts, volatile_from_kpa, main_from_pct), **known, **hazards_of(known, facts, tables)}
            ),
        )
        for item_id, known in facts.items()
    ]
    rules = {rule.id: rule for rule, _, _ in load_rules(where["rules"])}
    notes: list[str] = []
    if "house rules" in where:
        for rule, _, path in load_rules(where["house rules"], house=True):
            _add_house_rule(rules, rule, path, notes)
    by_kind: dict[str, list[Facts]] = {}
    for _, kind, _, _, known in entries:
        by_kind.setdefault(kind, []).append(known)
    ranking = load_ranking(where)
    _check_levels(rules.values(), ranking["levels"])
    words, grades = _words(catalog)
    steps = list(load_steps(catalog / "steps"))
    by_rules = (path for rule in rules.values() for path in rule.facts())
    by_steps = (path for step in steps for path in reads(step))
    by_ranking = (
        *HEAT.values(),
        *(limit for row in ranking["headroom"] for limit in limits_of(row)),
    )
    sources = {s.id: s.model_dump(mode="json") for s in load_sources(catalog / "sources.toml").values()}
    return {
        "entries": entries,
        "rules": [pack_rule(rules[rule_id]) for rule_id in sorted(rules) if not rules[rule_id].beside],
        "beside": [pack_rule(rules[rule_id]) for rule_id in sorted(rules) if rules[rule_id].beside],
        "sources": sources,
        "tables": {
            "ranking": ranking,
            "words": words,
            "layers": _frozen(read_toml(catalog / "layers.toml", "generic_catalog/layers.toml")),
            "reactivity": load_reactivity(catalog / "reactivity.toml"),
            "asked": load_asked(catalog / "asked.toml", facts, words),
            "lookup": {
                **by_name(facts, words, grades),
                **told_apart(rule for rule in rules.values() if not rule.beside),
                "of_substrates": tuple(
                    n for n in Substrate.model_fields if n == "family" or n not in Item.model_fields
                ),
            },
            "questions": _frozen(load_questions(catalog / "questions.toml")),
            "steps": _frozen(steps),
            "spreads": _frozen(load_spreads(catalog / "spreads.toml")),
            "usage": _frozen(usage),
            "mixtures": _frozen(tables["mixtures"]),
            "reactive_groups": read_toml(catalog / "reactive_groups.toml", "generic_catalog/reactive_groups.toml"),
        },
        "notes": notes,
        "index": index_of(by_kind, (*by_rules, *by_steps, *by_ranking)),
    }


def _check_levels(rules: Iterable[Rule], levels: Mapping[str, int]) -> None:
    for rule in rules:
        if rule.level is not None and rule.level not in levels:
            raise BadInput(rule.id, f"level: there is no level '{rule.level}'", near_or_all(rule.level, levels))


def items_of(where: Mapping[str, Path]) -> dict[str, Item]:
    """Read every item of the catalog and of the lab's own by id, with `like` filled in."""
    items: dict[str, Item] = {}
    for _, item, path in load_items(where["generic_catalog"]):
        _add(items, item, path)
    if "house catalog" in where:
        for _, item, path in load_items(where["house catalog"], dict(items)):
            _add(items, item.model_copy(update={"house": True}), path)
    return items


def _words(catalog: Path) -> tuple[WordsTable, list[Facts]]:
    """Tell what words and marks mean, as one table, and the designations of each item."""
    files = ("words.toml", "designations.toml")
    words, marks = (read_toml(catalog / name, f"generic_catalog/{name}") for name in files)
    grades: list[Facts] = marks.pop("grades")
    return cast(WordsTable, {**marks, **words}), grades


def described_facts(
    own: Facts, taken: Facts, items: Mapping[str, Facts], tables: Facts, where: str
) -> dict[str, Value]:
    """Check facts of a substrate that a job describes like a catalog item's.

    `own` is as the job gives it; `taken` holds flat facts of what it is like; `items` the substrates by id.
    """
    for name in own:
        if name not in Substrate.model_fields:
            raise BadInput(where, f"{name}: a substrate has no such fact", nearest(name, Substrate.model_fields))
    base = {k: v for k, v in taken.items() if "." not in k and k in Substrate.model_fields}
    nested = {k.partition(".")[0] for k in taken if "." in k and k.partition(".")[0] in Substrate.model_fields}
    for table in nested:
        inner = {k.partition(".")[2]: v for k, v in taken.items() if k.startswith(f"{table}.")}
        base[table] = {k: v for k, v in inner.items() if k != "dph"}
    named = {"id": "described", "name": f"described {own.get('family') or base.get('family') or 'material'}"}
    try:
        given = {name: converted(name, value) for name, value in own.items()}
    except ValueError as fault:
        raise BadInput(where, str(fault), "write the figure, in the unit that the name ends in") from None
    data = {**base, **named, "basis": "memory", **given}
    absent = {name for name in Substrate.model_fields if name not in data} - (set(Item.model_fields) - {"family"})
    # What a model asks for, or fills in, is still not known: it is lent for the checking and taken back after it.
    lent = {name: value for name, value in _LENT.items() if name in absent}
    item = validated(Substrate, {**lent, **data}, where)
    facts = {name: value for name, value in as_facts(item).items() if name.partition(".")[0] not in absent}
    follows = {**derived(facts, items), **hazards_of({**facts, "kind": "substrate"}, items, tables)}
    known: dict[str, Value] = _frozen({**follows, **facts, "kind": "substrate"})
    return known


def _stated(item: Item) -> Facts:
    """Tell what is stated of an item, each of its ways to cure with what follows from it alone."""
    facts = as_facts(item)
    if CURES in facts:
        facts[CURES] = [cured(cure) for cure in facts[CURES]]
    return {"kind": item.kind, **facts}


def _add(items: dict[str, Item], item: Item, path: Path) -> None:
    if item.id in items:
        raise BadInput(str(path), f"id: '{item.id}' is already a {items[item.id].kind}", "give it another id")
    items[item.id] = item


def _add_house_rule(rules: dict[str, Rule], rule: Rule, path: Path, notes: list[str]) -> None:
    """Add a lab's rule, which tightens; one that loosens turns a refusal into a need of its own conditions."""
    if rule.id in rules:
        raise BadInput(str(path), f"id: '{rule.id}' is a shipped rule's", "give the lab's rule an id of its own")
    if rule.loosens is None:
        rules[rule.id] = rule
        return
    loosened = rules.get(rule.loosens)
    if loosened is None:
        raise BadInput(str(path), f"loosens: there is no rule '{rule.loosens}'", nearest(rule.loosens, rules))
    if loosened.verdict != "block":
        raise BadInput(str(path), f"loosens: '{rule.loosens}' is not a block", "only a block can be loosened")
    rules[loosened.id] = loosened._replace(
        verdict="need",
        needs=rule.when,
        because=f"{loosened.because} Loosened by the lab's rule {rule.id}: {rule.reason}",
        reason=rule.reason,
        loosens=rule.id,
        house=True,
    )
    notes.append(f"The lab's rule {rule.id} loosens {loosened.id}: {rule.reason}")


def _frozen(value: Value) -> Value:
    """Turn lists into tuples, at any depth, so that facts can be compared, indexed and shared."""
    if isinstance(value, Mapping):
        return {key: _frozen(inner) for key, inner in value.items()}
    if isinstance(value, (list, tuple)):
        return tuple(_frozen(inner) for inner in value)
    return value
