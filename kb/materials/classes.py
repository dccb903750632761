"""A material of which only the class is known: "steel", "nylon".

Nothing is picked for the user. A fact of the class is the cautious end of what its members have; where there is no
cautious end and they differ, it is that of the class's ordinary member, or, where it has none, not known. Which end is
cautious, and what is ordinary, is data (generic_catalog/words.toml).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

from kb.base.lexicon import Lexicon, folded
from kb.base.plurals import singulars
from kb.knowledge import Entry, Knowledge

Class = Mapping[str, Any]
#: What of an entry says nothing about the material.
LABELS = frozenset(
    ("id", "kind", "name", "aliases", "summary", "basis", "sources", "field_basis", "ranges", "house", "like")
)
#: Lists of figures, of which a class has none where one of its members has none.
_FIGURES = ("lowest", "highest", "middle")


def class_meant(words: str, knowledge: Knowledge, kind: str = "substrate") -> Class | None:
    """Find the class that `words` stand for, with or without words of form ("nylon rod"); None where they name none.

    A family of the vocabulary is a class, too.
    """
    lexicon = knowledge.lexicon
    found = (row_called(atoms, knowledge, lexicon, kind) for atoms in lexicon.readings(words))
    return next((row for row in found if row is not None), None)


def row_called(atoms: Sequence[str], knowledge: Knowledge, lexicon: Lexicon, kind: str = "substrate") -> Class | None:
    """Find the class of just these words, forms aside."""
    wanted = [run for run in (tuple(atoms), tuple(atom for atom in atoms if atom not in lexicon.forms)) if run]
    wanted += [one for run in wanted if (one := singular(run)) != run]
    return next((row for row in rows(knowledge, kind) if any(run in row["atoms"] for run in wanted)), None)


def singular(atoms: Sequence[str]) -> tuple[str, ...]:
    """Take the plural's ending off the last word.

    >>> singular(("stainless", "steels")), singular(("brasses",)), singular(("brass",)), singular(("gas",))
    (('stainless', 'steel'), ('brass',), ('brass',), ('gas',))
    """
    *before, last = atoms
    return (*before, next(singulars(last), last))


def rows(knowledge: Knowledge, kind: str = "substrate") -> list[Class]:
    """List every class of a kind: those that have words of their own, then the families."""
    return [row for row in knowledge.tables["lookup"]["classes"] if row["kind"] == kind]


def members(known_class: Class, knowledge: Knowledge) -> list[Entry]:
    """List the catalog's members of a class, in catalog order."""
    only, without = known_class.get("only"), known_class.get("without", ())
    kind = known_class.get("kind", "substrate")
    family = [e for e in knowledge.by_kind[kind] if e.family == known_class["family"]]
    return [e for e in family if (only is None or e.id in only) and e.id not in without]


def of_family(family: str, knowledge: Knowledge) -> list[Entry]:
    """List what a substrate of a known family may be: as its class, without what nobody means by its name."""
    row = row_of_family(family, knowledge)
    found = members(row, knowledge) if row else []
    return found or [e for e in knowledge.by_kind["substrate"] if e.family == family]


def row_of_family(family: str, knowledge: Knowledge) -> Class | None:
    """Give the class that a family is by its own name; None where it has one member alone."""
    return next((row for row in rows(knowledge) if row["words"] == (family,)), None)


def alike_dust(known_class: Class, facts: Mapping[str, Any], knowledge: Knowledge) -> dict[str, Any]:
    """Say what is in the dust of a class's look-alikes and not in its own: those of its members, and its own."""
    alike = [knowledge.entry(one).facts.get("dust_hazard", ()) for one in known_class.get("looks_like", ())]
    if not alike and "lookalike_dust_hazard" not in facts:
        return {}
    # What one member looks like may be another member.
    own = facts.get("dust_hazard", ())
    worse = dict.fromkeys(word for dust in (facts.get("lookalike_dust_hazard", ()), *alike) for word in dust)
    return {"lookalike_dust_hazard": tuple(word for word in worse if word not in own)}


def class_entry(words: str, known_class: Class, knowledge: Knowledge, usual: str = "") -> Entry:
    """Make the class an entry: its id and name from the words, its facts cautious, or those of its `usual` member."""
    named = folded(words)
    ordinary = knowledge.entries.get(usual)
    ends = knowledge.tables["words"]["cautious"]
    facts = cautious([e.facts for e in members(known_class, knowledge)], ends, ordinary.facts if ordinary else {})
    facts |= alike_dust(known_class, facts, knowledge)
    facts |= {"id": named.replace(" ", "-"), "name": f"{named}, grade not known", "aliases": (), "house": False}
    return Entry(facts["id"], "substrate", known_class["family"], facts["name"], facts)


def cautious(
    known: Sequence[Mapping[str, Any]], ends: Mapping[str, Sequence[str]], ordinary: Mapping[str, Any] | None = None
) -> dict[str, Any]:
    """Work out the facts of a class from its members', and from its `ordinary` one's where they differ for no end.

    >>> ends = {"lowest": ["max"], "joined": ["dust"]}
    >>> cautious([{"max": 90, "dust": ("a",), "hard": 1}, {"max": 80, "dust": ("b",), "hard": 2}], ends)
    {'max': 80, 'dust': ('a', 'b')}
    >>> cautious([{"hard": 1}, {"hard": 2}], ends, {"hard": 2})
    {'hard': 2}
    """
    fixed = LABELS.union(*(ends.get(name, ()) for name in (*_FIGURES, "open")))
    found: dict[str, Any] = {}
    for path in dict.fromkeys(path for facts in known for path in facts):
        value = _end(path, [facts.get(path) for facts in known], ends)
        if value is None and path not in fixed and ordinary:
            value = ordinary.get(path)
        if value is not None:
            found[path] = value
    return found


def harms(known: Sequence[Mapping[str, Any]], ends: Mapping[str, Sequence[str]]) -> dict[str, Any]:
    """Work out the facts of a class that can harm somebody: what a described member of a family has at the least."""
    found = cautious(known, ends)
    return {path: value for path, value in found.items() if path in ends["harms"]}


def _end(path: str, values: Sequence[Any], ends: Mapping[str, Sequence[str]]) -> Any:
    if path in ends.get("true", ()) and True in values:
        return True
    if None in values:
        return None
    for name, end in _ENDS.items():
        if path in ends.get(name, ()):
            return end(values)
    return values[0] if all(value == values[0] for value in values) else None


def _joined(values: Iterable[Sequence[Any]]) -> tuple[Any, ...]:
    return tuple(sorted({item for one in values for item in one}))


def _middle(values: Iterable[float]) -> float:
    from statistics import median

    return median(values)


#: What of the members' values is a class's, by the name of the list in words.toml.
_ENDS: Mapping[str, Callable[[Iterable[Any]], Any]] = {
    "joined": _joined,
    "lowest": min,
    "highest": max,
    "middle": _middle,
}
