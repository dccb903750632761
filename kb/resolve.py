"""What a part is made of: words, an id, or a description, to one catalog entry; or a question back.

Between materials whose handling differs nothing is picked silently: the user is shown what is near.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from kb import classes, identify
from kb.errors import BadInput, nearest
from kb.knowledge import Entry, Knowledge
from kb.rules import Rule


@dataclass(frozen=True, slots=True)
class Resolved:
    """The entry, what was asked, how it was found (id, alias, fuzzy, described), and how like it is, 0 to 100."""

    entry: Entry
    query: str
    how: str
    score: float
    #: For a described part: facts that neither the description nor what it is like gives.
    missing: tuple[str, ...] = ()


def substrate(given: str | Mapping[str, Any], knowledge: Knowledge, where: str) -> Resolved:
    """The part's material. BadInput, with what is near, where the words may mean several things or nothing."""
    if isinstance(given, Mapping):
        return described(given, knowledge, where)
    known_class = classes.class_meant(given, knowledge)
    if known_class is not None and identify.exact(given, knowledge.by_kind["substrate"]) is None:
        entry = classes.class_entry(given, known_class, knowledge)
        return Resolved(entry, given, "described", 100.0, missing_facts(entry.facts))
    return item(given, knowledge, where, ("substrate",))


def missing_facts(facts: Mapping[str, Any]) -> tuple[str, ...]:
    """The substrate's own facts that aren't known of this one."""
    from kb.catalog import Item, Substrate

    named = {path.partition(".")[0] for path in facts} | set(Item.model_fields)
    return tuple(name for name in Substrate.model_fields if name not in named)


def missed_by(resolved: Resolved, rules: Iterable[Rule]) -> list[str]:
    """Facts that aren't known of the part and that one of `rules` reads."""
    read = {path.partition(".")[2].partition(".")[0] for rule in rules for path in rule.facts()}
    return [name for name in resolved.missing if name in read]


def item(words: str, knowledge: Knowledge, where: str, kinds: tuple[str, ...]) -> Resolved:
    """The item of one of `kinds` that `words` mean; BadInput where that isn't clear."""
    matches = identify.identify(words, knowledge, kinds)
    what = kinds[0] if len(kinds) == 1 else "item"
    if not matches:
        raise BadInput(
            where, f"'{words}' is no {what} that is known", f"see `tackroom list {kinds[0]}`, or describe it"
        )
    best = matches[0]
    if best.how == "fuzzy" and not identify.clear(matches):
        near = ", ".join(f"{m.entry.id} ({m.score:.0f})" for m in matches[:5])
        raise BadInput(where, f"'{words}' may mean several things", f"write one of: {near}")
    return Resolved(best.entry, words, best.how, best.score)


def described(given: Mapping[str, Any], knowledge: Knowledge, where: str) -> Resolved:
    """A material that the catalog lacks: facts as given, the rest as those of what it is like.

    With a family only, the facts in which every member of the family agrees; what they differ in stays unknown.
    """
    from kb.build import described_facts

    own = {name: value for name, value in given.items() if name != "like"}
    taken: dict[str, Any] = {}
    query = str(given.get("name") or given.get("like") or given.get("family"))
    if "like" in given:
        found = item(str(given["like"]), knowledge, f"{where}: like", ("substrate",))
        taken = {k: v for k, v in found.entry.facts.items() if k not in ("aliases", "summary")}
    elif "family" in given:
        members = [e for e in knowledge.by_kind["substrate"] if e.family == given["family"]]
        if not members:
            families = {e.family for e in knowledge.by_kind["substrate"]}
            mend = nearest(str(given["family"]), families) or f"families: {', '.join(sorted(families))}"
            raise BadInput(where, f"family: '{given['family']}' is no substrate family", mend)
        first = members[0].facts
        taken = {k: v for k, v in first.items() if all(m.facts.get(k) == v for m in members)}
    else:
        raise BadInput(where, "a described substrate needs `like` or `family`", 'for instance { like = "peek" }')
    facts = described_facts(own, taken, where)
    entry = Entry(facts["id"], "substrate", facts["family"], facts["name"], facts)
    return Resolved(entry, query, "described", 100.0, missing_facts(facts))
