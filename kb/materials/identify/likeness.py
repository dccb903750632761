"""How like a typed phrase an item's names are: what of the phrase they cover, and how whole the best of them is met.

A number, or a single letter, is part of a designation and means nothing outside it: it counts only where the
designation, or the name that it stands in, is met whole, and never when misspelt. A word counts by its rarity among
the names; one that no name has counts against every item. Form words ("rod") hardly count, a finish ("painted")
counts for more.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import groupby

from rapidfuzz import process
from rapidfuzz.distance import OSA

from kb.base.lexicon import Lexicon, squeezed
from kb.knowledge import Knowledge
from kb.knowledge.lookup import unpacked
from kb.materials.identify.match import SURE, Match

#: Below this a likeness is not offered, nor below FALL of the best.
OFFERED, FALL = 38.0, 0.6
#: What a form word counts, what a word counts that no name has, and how much more than its rarity a finish does.
FORM, STRANGE, FINISH = 0.15, 3.0, 1.5
#: The most that is had where no name is met whole: less than what may be taken without asking.
PARTIAL = SURE - 0.1
#: The share of the score that covering the phrase gives alone; the rest is for a name met whole.
COVERED = 0.6
#: What its family's name counts beside an item's own.
FAMILY = 0.75
#: A shorter number or letter alone names nothing.
DESIGNATION = 3
#: Edits allowed in a word by its length, most first; shorter words must be right.
_EDITS = ((11, 3), (7, 2), (5, 1))


def alike(atoms: Sequence[str], knowledge: Knowledge, kinds: Sequence[str], lexicon: Lexicon) -> list[Match]:
    """Items of `kinds` that `atoms` may mean, best first."""
    phrase = _Phrase(atoms, knowledge, frozenset(kinds), lexicon)
    found = [m for item in phrase.candidates() if (m := phrase.match(item)) is not None]
    found.sort(key=lambda m: (-m.score, -phrase.spoken_of(m.entry.id), m.entry.id))
    return [m for m in found if m.score >= max(OFFERED, FALL * found[0].score)]


@dataclass
class _Phrase:
    """What was typed, and which words of the names each of its words stands for."""

    typed: Sequence[str]
    knowledge: Knowledge
    kinds: frozenset[str]
    lexicon: Lexicon
    #: What was typed, with words that were run together parted.
    atoms: list[str] = field(default_factory=list)
    #: By word of the names: how like it the nearest typed word is, 0 to 1.
    heard: dict[str, float] = field(default_factory=dict)
    #: By place in the phrase: the words of the names that it may stand for.
    senses: list[tuple[str, ...]] = field(default_factory=list)
    weights: list[float] = field(default_factory=list)

    def __post_init__(self) -> None:
        known = unpacked(self.knowledge.tables["lookup"]["packed"])
        self._postings: Mapping[str, tuple[str, ...]] = known["atoms"]
        self._families: Mapping[str, tuple[str, ...]] = known["families"]
        self._names: Mapping[str, tuple[tuple[str, ...], ...]] = known["names"]
        self._found: dict[str, dict[str, None]] = {}
        self._rarities: dict[str, float] = {}
        self._total = sum(len(self.knowledge.by_kind.get(kind, ())) for kind in self.kinds)
        self.atoms = [part for atom in self.typed for part in self._parted(atom)]
        self._codes = Counter(atom for atom in self.atoms if code(atom))
        self._runs = {squeezed(run) for run in designations(self.atoms)}
        for place, atom in enumerate(self.atoms):
            senses = dict(self._senses(place))
            self.senses.append(tuple(senses))
            self.weights.append(self._weight(atom, senses))
            for sense, likeness in senses.items():
                self.heard[sense] = max(likeness, self.heard.get(sense, 0.0))

    def candidates(self) -> list[str]:
        """Items with at least one word of the phrase that is more than a form, in a stable order."""
        words = [s for senses in self.senses for s in senses if s not in self.lexicon.forms]
        return list(dict.fromkeys(item for word in words for item in self._items(word)))

    def match(self, item: str) -> Match | None:
        """The item as a match; None where only stray numbers speak for it."""
        names = self._names[item]
        whole = [name for name in names if self._is_whole(name)]
        codes: Counter[str] = Counter()
        runs = [run for name in names for run in designations(name) if squeezed(run) in self._runs]
        for met in (*whole, *runs):
            codes |= Counter(atom for atom in met if code(atom))
        covered = 0.0
        for senses, weight in zip(self.senses, self.weights, strict=True):
            near = [self.heard[s] for s in senses if item in self._items(s) and (not code(s) or codes[s] > 0)]
            if near:
                covered += weight * max(near)
            codes.subtract(s for s in senses if code(s))
        total = sum(self.weights)
        if not covered or not total:
            return None
        family = FAMILY * self._met(self._families[self.knowledge.entries[item].family])
        best = max(family, *map(self._met, names))
        score = 100 * covered / total * (COVERED + (1 - COVERED) * best)
        how = "alias" if any(self._is_all(name) for name in whole) else "fuzzy"
        return Match(self.knowledge.entries[item], how, round(min(score, 99.9 if whole else PARTIAL), 1))

    def spoken_of(self, item: str) -> float:
        """How much of the item's names was typed, on average: which of equals is meant sooner."""
        names = self._names[item]
        return sum(map(self._met, names)) / len(names)

    def _is_whole(self, name: Sequence[str]) -> bool:
        """Whether every word of the name was typed, its numbers as often as it has them."""
        if not all(atom in self.heard for atom in name):
            return False
        return all(self._codes[a] >= n for a, n in Counter(a for a in name if code(a)).items())

    def _is_all(self, name: Sequence[str]) -> bool:
        """Whether nothing but form words was typed beside the name, and nothing of it misspelt."""
        if any(self.heard[atom] < 1 for atom in name):
            return False
        return all(
            any(s in name for s in senses) or atom in self.lexicon.forms
            for atom, senses in zip(self.atoms, self.senses, strict=True)
        )

    def _met(self, name: Sequence[str]) -> float:
        """The share of a name that was typed, by the rarity of its words."""
        met = sum(self._rarity(atom) for atom in name if atom in self.heard)
        return met / sum(self._rarity(atom) for atom in name)

    def _weight(self, atom: str, senses: Mapping[str, float]) -> float:
        if atom in self.lexicon.forms:
            return FORM
        rarity = max((self._rarity(s) for s in senses), default=STRANGE)
        return rarity * FINISH if any(s in self.lexicon.finishes for s in senses) else rarity

    def _rarity(self, atom: str) -> float:
        if atom not in self._rarities:
            self._rarities[atom] = math.log(1 + self._total / max(1, len(self._items(atom))))
        return self._rarities[atom]

    def _items(self, atom: str) -> dict[str, None]:
        """Items of the kinds asked for that have the word in a name or in their family, in catalog order."""
        if atom not in self._found:
            items = self._postings.get(atom, ())
            self._found[atom] = dict.fromkeys(i for i in items if self.knowledge.entries[i].kind in self.kinds)
        return self._found[atom]

    def _senses(self, place: int) -> Iterator[tuple[str, float]]:
        """Words of the names that the typed word at `place` may stand for, with how like they are, 0 to 1."""
        atom = self.atoms[place]
        same = next((form for form in _numbers_of(atom) if self._items(form)), None)
        if same is not None:
            yield same, 1.0
        joined = [word for word in self._joined(place) if self._items(word)]
        yield from ((word, 1.0) for word in joined)
        if same is None and not joined and atom not in self._postings and atom not in self.lexicon.forms:
            yield from self._misspelt(atom)

    def _joined(self, place: int) -> Iterator[str]:
        """The word together with the one before or after it: "poly carbonate"."""
        for first in range(max(0, place - 1), min(place + 1, len(self.atoms) - 1)):
            pair = self.atoms[first : first + 2]
            if all(atom.isalpha() for atom in pair):
                yield "".join(pair)

    def _parted(self, atom: str) -> tuple[str, ...]:
        """The word as two that names have ("copperfoil"), where it is in none itself."""
        if not any(form in self._postings for form in _numbers_of(atom)):
            for cut in range(3, len(atom) - 2):
                if self._items(atom[:cut]) and self._items(atom[cut:]):
                    return atom[:cut], atom[cut:]
        return (atom,)

    def _misspelt(self, atom: str) -> Iterator[tuple[str, float]]:
        """The words that are the fewest edits away, if these are few for its length."""
        allowed = next((edits for length, edits in _EDITS if len(atom) >= length), 0)
        if not allowed or code(atom):
            return
        words = [word for word in self._postings if self._items(word) and self._may_be(atom, word)]
        near = process.extract(atom, words, scorer=OSA.distance, score_cutoff=allowed, limit=None)
        least = min((edits for _, edits, _ in near), default=0)
        for word, edits, _ in near:
            if edits == least:
                yield word, 1 - edits / max(len(word), len(atom))

    def _may_be(self, atom: str, word: str) -> bool:
        """Whether a misspelling is thinkable: alike in length and beginning, not the opposite, no sister substance."""
        if code(word) or abs(len(word) - len(atom)) > 3 or (len(atom) < 7 and word[0] != atom[0]):
            return False
        if any(atom == opposite + word or word == opposite + atom for opposite in self.lexicon.opposites):
            return False
        ends = [next((e for e in self.lexicon.distinct if w.endswith(e)), "") for w in (atom, word)]
        return not all(ends) or ends[0] == ends[1] or atom[: -len(ends[0])] != word[: -len(ends[1])]


def code(atom: str) -> bool:
    """Whether an atom is a number or a single letter: part of a designation, and no word."""
    return len(atom) < 2 or not atom.isalpha()


def designations(atoms: Iterable[str]) -> list[tuple[str, ...]]:
    """The runs of numbers and letters among `atoms` that are long enough to name something.

    >>> designations(("polyamide", "6", "cast", "p", "400"))
    [('p', '400')]
    """
    runs = (tuple(run) for is_code, run in groupby(atoms, code) if is_code)
    return [run for run in runs if len(squeezed(run)) >= DESIGNATION]


def _numbers_of(word: str) -> Iterator[str]:
    """The word, and as its singular and plural."""
    yield word
    if word.isalpha() and len(word) > 3:
        for ending, instead in (("ies", "y"), ("es", ""), ("s", "")):
            if word.endswith(ending) and not word.endswith("ss"):
                yield word[: -len(ending)] + instead
        yield f"{word}s"
