"""The knowledge with some values of items in place of the catalog's: supposed for a question, or confirmed by a lab.

What follows from a value (a unit, what ruins an item, its hazards) follows anew, and so does what is made of the
item: a mixture of a substance, a plated part of its base.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Collection, Iterator, Mapping
from dataclasses import replace
from functools import cache

from kb.base.files import read_toml
from kb.base.places import shipped
from kb.knowledge import Entry, Knowledge
from kb.knowledge.derive import cured, derived
from kb.knowledge.hazards import hazards_of
from kb.knowledge.index import Index, masks_of, option_facts
from kb.rules.clauses import Facts, Value
from kb.rules.roles import CHAIN_KINDS
from kb.rules.values import CURES, Told

#: What a grade of resistance is called by: from all of them something follows, from those that are missing as well.
_GRADE = "resists."
#: What the hazards of a mixture also follow from, beside what it is made of.
_HAZARD_FACTS = frozenset(("ph", "flash_point_c", "no_flash_point", "viscosity", "form", "applied_as"))


def with_values(known: Knowledge, told: Mapping[str, Collection[Told]]) -> Knowledge:
    """Give the knowledge in which each of these items has these values. Items must be there, and values be checked."""
    if not told:
        return known
    return with_restated(
        known, {item: restated(known.entries[item], values, known) for item, values in told.items()}, told
    )


def with_restated(known: Knowledge, items: Mapping[str, Entry], told: Mapping[str, Collection[Told]]) -> Knowledge:
    """Give the same, where the items were restated already."""
    entries = {**known.entries, **items}
    for item_id in told:
        for entry in _made_of(item_id, entries):
            was = derived(entry.facts, _FactsOf(known.entries), *_liquids(known))
            entries[entry.id] = entry._replace(facts=_following(entry.facts, entry.facts, known, entries, was))
    moved = {name for name, entry in entries.items() if entry is not known.entries[name]}
    said = json.dumps({item: sorted(map(list, rows), key=str) for item, rows in told.items()}, sort_keys=True)
    return replace(
        known,
        entries=entries,
        index=_index_of(known, entries, {entries[name].kind for name in moved}),
        digest=hashlib.sha256(f"{known.digest}{said}".encode()).hexdigest(),
    )


def restated(entry: Entry, values: Collection[Told], known: Knowledge) -> Entry:
    """Give an item with these values in place of its own, what follows from them, and what they rest on.

    A range that the class had for such a value no longer holds.
    """
    return Restating(entry, known).with_values(values)


class Restating:
    """An item that is restated again and again: what follows from its own values is worked out once."""

    def __init__(self, entry: Entry, known: Knowledge) -> None:
        self.entry, self.known = entry, known
        self._read = _Read(entry.facts)
        self._was = derived(self._read, _FactsOf(known.entries), *_liquids(known))

    def with_values(self, values: Collection[Told]) -> Entry:
        """Give the item with these values in place of its own."""
        own = self.entry.facts
        facts = dict(own)
        for field, value, basis, locator in values:
            _put(facts, field, value)
            row = {"fields": (field,), "basis": basis, "source": None, "locator": locator}
            facts["field_basis"] = (*facts.get("field_basis", ()), row)
        told = {value.field for value in values}
        if not told.isdisjoint(own.get("ranges", {})):
            facts["ranges"] = {name: span for name, span in own["ranges"].items() if name not in told}
        # Where nothing that was read for what follows is another, the same follows.
        if any(own.get(name) != facts.get(name) for name in {*self._read.names, *_HAZARD_FACTS}) or any(
            name.startswith(_GRADE) for name in told
        ):
            facts = _following(own, facts, self.known, self.known.entries, dict(self._was))
        return self.entry._replace(facts=facts)


class _Read(Mapping[str, Value]):
    """The facts of an item; keeps which of them were read."""

    def __init__(self, facts: Facts) -> None:
        self._facts, self.names = facts, set[str]()

    def __getitem__(self, name: str) -> Value:
        self.names.add(name)
        return self._facts[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._facts)

    def __len__(self) -> int:
        return len(self._facts)


def _put(facts: dict[str, Value], field: str, value: Value) -> None:
    """Put a value in its place; a grade of resistance as a whole takes the limits of the former with it."""
    if field.startswith(f"{CURES}."):
        cure, _, name = field.removeprefix(f"{CURES}.").rpartition(".")
        facts[CURES] = tuple(cured({**row, name: value}) if row["id"] == cure else row for row in facts[CURES])
        return
    if field.startswith(_GRADE) and field.count(".") == 1:
        for name in [name for name in facts if name.startswith(f"{field}.")]:
            del facts[name]
    facts[field] = value


def _made_of(item_id: str, entries: Mapping[str, Entry]) -> Iterator[Entry]:
    """Give the entries of which something follows from that item."""
    for entry in list(entries.values()):
        if entry.facts.get("base") == item_id or item_id in entry.facts.get("substances", ()):
            yield entry


def _liquids(known: Knowledge) -> tuple[float, float]:
    """Tell from what pressure and from what share a constituent of a liquid counts."""
    if "usage" not in known.tables:
        return 0.0, 0.0
    air = known.tables["usage"]["air"]
    return air["volatile_from_kpa"], air["main_from_pct"]


def _following(
    old: Facts, new: Facts, known: Knowledge, entries: Mapping[str, Entry], was: dict[str, Value]
) -> dict[str, Value]:
    """Give `new` with what follows from it in the place of what followed from `old`, `was`; what is stated stays."""
    before, now = _FactsOf(known.entries), _FactsOf(entries)
    becomes = derived(new, now, *_liquids(known))
    moved = entries is not known.entries
    if new.get("composition") and (moved or any(old.get(x) != new.get(x) for x in _HAZARD_FACTS)):
        was |= _hazards(old, old, before, known)
        becomes |= _hazards(new, old, now, known)
    found = dict(new)
    for name in {**was, **becomes}:
        if was.get(name) != becomes.get(name) and _same(was.get(name), old.get(name)):
            found.pop(name, None)
            if name in becomes:
                found[name] = _fixed(becomes[name])
    return found


class _FactsOf(Mapping[str, Facts]):
    """The facts of entries by id; all of them are never laid out for the few that are asked for."""

    def __init__(self, entries: Mapping[str, Entry]) -> None:
        self._entries = entries

    def __getitem__(self, name: str) -> Facts:
        return self._entries[name].facts

    def __iter__(self) -> Iterator[str]:
        return iter(self._entries)

    def __len__(self) -> int:
        return len(self._entries)


def _hazards(item: Facts, catalogs: Facts, items: Mapping[str, Facts], known: Knowledge) -> dict[str, Value]:
    """Derive an item's hazards, with the words that the catalog's item has beside what follows for it."""
    tables = {
        "mixtures": known.tables["mixtures"],
        "wording": _wording(),
        "volatile_from_kpa": known.tables["usage"]["air"]["volatile_from_kpa"],
    }
    bare = {name: value for name, value in catalogs.items() if name != "hazards"}
    follow = hazards_of(bare, _FactsOf(known.entries), tables)["hazards"]
    own = [word for word in catalogs.get("hazards", ()) if word not in follow]
    return hazards_of({**{n: v for n, v in item.items() if n != "hazards"}, "hazards": own}, items, tables)


def _index_of(known: Knowledge, entries: Mapping[str, Entry], kinds: Collection[str]) -> dict[str, Index]:
    """Make the masks of the facts in which items of these kinds now differ; the others stay as they are."""
    index = dict(known.index)
    for kind in CHAIN_KINDS:
        if kind not in kinds or kind not in index:
            continue
        items = [entry.facts for entry in entries.values() if entry.kind == kind]
        old, new = option_facts(kind, [entry.facts for entry in known.by_kind[kind]]), option_facts(kind, items)
        masks = dict(index[kind])
        moved = [
            [(one, other) for one, other in zip(*facts, strict=True) if one is not other]
            for facts in zip(old, new, strict=True)
        ]
        for cure, fact in masks:
            if any(one.get(fact) != other.get(fact) for one, other in moved[cure]):
                masks[cure, fact] = masks_of(new[cure], fact)
        index[kind] = masks
    return index


@cache
def _wording() -> Mapping[str, Value]:
    """Read the words of the hazard statements once."""
    _, catalog = shipped()
    name = "hazard_statements.toml"
    found: Mapping[str, Value] = read_toml(catalog / name, f"generic_catalog/{name}")["statements"]
    return found


def _same(one: Value, other: Value) -> bool:
    return bool(_fixed(one) == _fixed(other))


def _fixed(value: Value) -> Value:
    """Turn lists into tuples, at any depth, as the facts of an entry have them."""
    if isinstance(value, Mapping):
        return {key: _fixed(inner) for key, inner in value.items()}
    return tuple(map(_fixed, value)) if isinstance(value, (list, tuple)) else value
