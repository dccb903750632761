"""Words to catalog items: an id, a known name, a misspelling, or words in another order.

>>> folded("Aluminum  6061_T6")
'aluminium 6061 t6'
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from kb.knowledge import Entry, Knowledge

#: Spellings of one word; both Englishes, and what keyboards make of it.
_SPELLINGS = {"aluminum": "aluminium", "molded": "moulded", "fiber": "fibre", "gray": "grey", "sulfur": "sulphur"}
#: Below this a likeness is not offered; from SURE on it may be taken without asking.
OFFERED, SURE, LEAD = 72.0, 90.0, 4.0


@dataclass(frozen=True, slots=True)
class Match:
    """One item that words may mean: how it was found, and how like it is, 0 to 100."""

    entry: Entry
    how: str
    score: float


def folded(words: str) -> str:
    """`words` in lower case, separators as blanks, one spelling per word."""
    parts = re.sub(r"[^a-z0-9%.]+", " ", words.lower()).split()
    return " ".join(_SPELLINGS.get(part, part) for part in parts)


def names_of(entry: Entry) -> tuple[str, ...]:
    """Everything that an entry is called, folded: its id, name and aliases."""
    return tuple(dict.fromkeys(folded(n) for n in (entry.id, entry.name, *entry.facts.get("aliases", ()))))


def exact(words: str, entries: Iterable[Entry]) -> Match | None:
    """The entry whose id, name or alias the words are."""
    wanted = folded(words)
    for entry in entries:
        if words == entry.id or wanted == folded(entry.id):
            return Match(entry, "id", 100.0)
    for entry in entries:
        if wanted in names_of(entry):
            return Match(entry, "alias", 100.0)
    return None


def identify(words: str, knowledge: Knowledge, kinds: tuple[str, ...] = ("substrate",), most: int = 8) -> list[Match]:
    """What `words` may mean among `kinds`, best first; empty where nothing is near enough to be offered."""
    entries = [e for kind in kinds for e in knowledge.by_kind.get(kind, ())]
    found = exact(words, entries)
    if found is not None:
        return [found]
    from rapidfuzz import fuzz

    wanted = folded(words)
    if len(wanted) < 2:
        return []
    matches = [
        Match(entry, "fuzzy", round(max(fuzz.WRatio(wanted, name) for name in names_of(entry)), 1)) for entry in entries
    ]
    near = [m for m in matches if m.score >= OFFERED]
    return sorted(near, key=lambda m: (-m.score, m.entry.id))[:most]


def clear(matches: list[Match]) -> bool:
    """Whether the best match may be taken without asking: very like, and well ahead of any other family."""
    best = matches[0]
    rivals = [m for m in matches[1:] if m.entry.family != best.entry.family or m.score == best.score]
    return best.score >= SURE and all(best.score - m.score >= LEAD for m in rivals)
