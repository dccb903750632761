"""Words to catalog items: an id, a known name, a misspelling, or words in another order.

Words are compared one by one. A rare word ("7075") says more than a common one ("steel"); a word that is in no
name and that is not the form of a part speaks against every match. Form and finish words are data
(generic_catalog/words.toml).

>>> folded("Cast-Iron  GG25 ")
'cast iron gg25'
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from kb.knowledge import Entry, Knowledge

#: Below OFFERED a likeness is not offered. From SURE on, and LEAD points ahead of any other, it is taken unasked.
OFFERED, SURE, LEAD = 62.0, 90.0, 6.0
#: How much it counts that the words typed are all found, against that the name's words are all typed.
TYPED_SHARE = 0.7
#: Two words of four letters or more are the same word from this likeness on.
ALIKE = 78.0
#: What a word of form or finish weighs against a word that names a material, and one that is in no name at all.
NOISE_SHARE, STRANGE_SHARE = 0.1, 0.35


@dataclass(frozen=True, slots=True)
class Match:
    """One item that words may mean: how it was found, and how like it is, 0 to 100."""

    entry: Entry
    how: str
    score: float


def folded(words: str) -> str:
    """`words` in lower case with separators as blanks."""
    return " ".join(re.sub(r"[^a-z0-9%.]+", " ", words.lower()).replace(" .", " ").split())


def names_of(entry: Entry) -> tuple[str, ...]:
    """Everything that an entry is called, folded: its id, name and aliases."""
    return tuple(dict.fromkeys(folded(n) for n in (entry.id, entry.name, *entry.facts.get("aliases", ()))))


def exact(words: str, entries: Iterable[Entry]) -> Match | None:
    """The entry whose id, name or alias the words are."""
    wanted = folded(words)
    squeezed = wanted.replace(" ", "")
    entries = list(entries)
    for entry in entries:
        if words == entry.id or wanted == folded(entry.id):
            return Match(entry, "id", 100.0)
    for entry in entries:
        if any(name == wanted or name.replace(" ", "") == squeezed for name in names_of(entry)):
            return Match(entry, "alias", 100.0)
    return None


def identify(words: str, knowledge: Knowledge, kinds: tuple[str, ...] = ("substrate",), most: int = 8) -> list[Match]:
    """What `words` may mean among `kinds`, best first; empty where nothing is near enough to be offered."""
    entries = [e for kind in kinds for e in knowledge.by_kind.get(kind, ())]
    found = exact(words, entries)
    if found is not None:
        return [found]
    index = _index(knowledge, kinds, entries)
    typed = index.words(words)
    scored = ((entry, index.likeness(typed, entry)) for entry in entries) if typed else ()
    near = [Match(entry, "fuzzy", round(score, 1)) for entry, score in scored if score >= OFFERED]
    return sorted(near, key=lambda m: (-m.score, m.entry.id))[:most]


def clear(matches: Sequence[Match]) -> bool:
    """Whether the best match may be taken without asking: very like, and well ahead of any other."""
    best = matches[0]
    if best.how != "fuzzy":
        return True
    return best.score >= SURE and all(best.score - m.score >= LEAD for m in matches[1:])


class _Index:
    """The words of every name, and how much each of them says."""

    def __init__(self, entries: Sequence[Entry], table: Mapping[str, Any]) -> None:
        self.spellings: Mapping[str, str] = table["spellings"]
        self.noise = {*table["form"], *table["finish"]}
        self.names = {e.id: [self.words(n) for n in names_of(e)] for e in entries}
        seen = Counter(word for names in self.names.values() for word in {w for name in names for w in name})
        self.rarest = math.log(1 + len(entries))
        self.weights = {word: math.log(1 + len(entries) / count) for word, count in seen.items()}

    def words(self, text: str) -> tuple[str, ...]:
        """The words of a text: letters and digits apart, one spelling for each word."""
        apart = re.sub(r"(?<=[a-z])(?=[0-9])|(?<=[0-9])(?=[a-z])", " ", folded(text))
        return tuple(w for part in apart.split() for w in self.spellings.get(part, part).split() if w.strip(".%"))

    def weight(self, word: str) -> float:
        """How much a word says: a rare one more than a common one, a strange one less than either."""
        if word not in self.weights:
            known = any(_same(word, other) for other in self.weights)
            self.weights[word] = self.rarest * (1.0 if known else STRANGE_SHARE)
        return self.weights[word]

    def likeness(self, typed: Sequence[str], entry: Entry) -> float:
        """How well one name of the entry fits the words typed, 0 to 100."""
        return max(self._fit(typed, name) for name in self.names[entry.id])

    def _fit(self, typed: Sequence[str], name: Sequence[str]) -> float:
        if "".join(typed) == "".join(name):
            return 99.0
        there = self._found(typed, name, NOISE_SHARE)
        if there == 0.0:
            return 0.0
        return TYPED_SHARE * there + (1 - TYPED_SHARE) * self._found(name, typed, 1.0)

    def _found(self, words: Sequence[str], among: Sequence[str], noise_share: float) -> float:
        """The share of what `words` say that is found `among` others, 0 to 100; words of form and finish say little."""
        total = found = 0.0
        for word in words:
            weight = self.weight(word) * (noise_share if word in self.noise else 1.0)
            total += weight
            found += weight * max(_same(word, other) for other in among)
        return found / total if total else 0.0


_INDEXES: dict[tuple[str, tuple[str, ...]], _Index] = {}


def _index(knowledge: Knowledge, kinds: tuple[str, ...], entries: Sequence[Entry]) -> _Index:
    """The index of some kinds, made once for each state of the knowledge."""
    key = (knowledge.digest, kinds)
    if key not in _INDEXES:
        _INDEXES[key] = _Index(entries, knowledge.tables["words"])
    return _INDEXES[key]


@lru_cache(maxsize=100_000)
def _same(one: str, other: str) -> float:
    """How surely two words are one, 0 to 100. A number is right or wrong; a short word too."""
    if one == other:
        return 100.0
    if any(c.isdigit() for c in one + other):
        long, short = (one, other) if len(one) >= len(other) else (other, one)
        return 90.0 if len(short) >= 4 and long.startswith(short) else 0.0
    if min(len(one), len(other)) < 4:
        return 80.0 if min(len(one), len(other)) == 3 and (one.startswith(other) or other.startswith(one)) else 0.0
    from rapidfuzz import fuzz

    ratio = float(fuzz.ratio(one, other))
    if one.startswith(other) or other.startswith(one):
        return max(85.0, ratio)
    return ratio if ratio >= ALIKE else 0.0
