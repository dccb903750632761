"""A material of which only the class is known: "steel", "nylon".

Nothing is picked for the user. A fact of the class is the cautious end of what its members have; where there
is no cautious end and they differ, it is not known. Which end is cautious is data (generic_catalog/words.toml).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from kb.base.lexicon import Lexicon, folded
from kb.knowledge import Entry, Knowledge


def class_meant(words: str, knowledge: Knowledge) -> Mapping[str, Any] | None:
    """The class that `words` stand for, with or without words of form ("nylon rod"); None where they name none."""
    lexicon = Lexicon(knowledge.tables["words"])
    typed = lexicon.atoms(words)
    wanted = {typed, tuple(atom for atom in typed if atom not in lexicon.forms)}
    return next((c for c in knowledge.tables["words"]["classes"] if wanted & {*map(lexicon.atoms, c["words"])}), None)


def members(known_class: Mapping[str, Any], knowledge: Knowledge) -> list[Entry]:
    """The catalog's members of a class, in catalog order."""
    only, without = known_class.get("only"), known_class.get("without", ())
    family = [e for e in knowledge.by_kind["substrate"] if e.family == known_class["family"]]
    return [e for e in family if (only is None or e.id in only) and e.id not in without]


def class_entry(words: str, known_class: Mapping[str, Any], knowledge: Knowledge) -> Entry:
    """The class as an entry: its id and name from the words, its facts cautious."""
    named = folded(words)
    facts = cautious([e.facts for e in members(known_class, knowledge)], knowledge.tables["words"]["cautious"])
    facts |= {"id": named.replace(" ", "-"), "name": f"{named}, grade not known", "aliases": (), "house": False}
    return Entry(facts["id"], "substrate", known_class["family"], facts["name"], facts)


def cautious(known: Sequence[Mapping[str, Any]], ends: Mapping[str, Sequence[str]]) -> dict[str, Any]:
    """The facts of a class from those of its members; unknown where any member's is, and where they differ for no end.

    >>> ends = {"lowest": ["max"], "true": [], "joined": ["dust"], "middle": []}
    >>> cautious([{"max": 90, "dust": ("a",), "hard": 1}, {"max": 80, "dust": ("b",), "hard": 2}], ends)
    {'max': 80, 'dust': ('a', 'b')}
    """
    found: dict[str, Any] = {}
    for path in known[0]:
        values = [facts.get(path) for facts in known]
        value = _end(path, values, ends)
        if value is not None:
            found[path] = value
    return found


def _end(path: str, values: Sequence[Any], ends: Mapping[str, Sequence[str]]) -> Any:
    if path in ends["joined"]:
        return _joined(values)
    if path in ends["true"] and True in values:
        return True
    if None in values:
        return None
    if path in ends["lowest"]:
        return min(values)
    if path in ends["middle"]:
        from statistics import median

        return median(values)
    return values[0] if all(value == values[0] for value in values) else None


def _joined(values: Iterable[Any]) -> tuple[Any, ...] | None:
    lists = list(values)
    if None in lists:
        return None
    return tuple(sorted({item for one in lists for item in one}))
