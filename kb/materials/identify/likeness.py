"""How like a typed phrase an item's names are: what of the phrase they cover, and how whole the best of them is met.

A number, or a single letter, is part of a designation and means nothing outside it: it counts only where the
designation, or the name that it stands in, is met whole, and never when misspelt. A word counts by its rarity among
the names; one that no name has counts against every item. Form words ("rod") hardly count, a finish ("painted")
counts for more.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

from kb.base.lexicon import squeezed
from kb.knowledge import Entry
from kb.materials.identify.match import LEAD, SURE, Match
from kb.materials.identify.phrase import Phrase, code, designations

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
#: So many strange words to one that is known, and what is typed is no name of anything.
NONSENSE = 2


def alike(phrase: Phrase) -> list[Match]:
    """Rank the items that a phrase may mean, best first; of one nature, for two unlike guesses help nobody."""
    scale = _Scale(phrase)
    found = [m for item in scale.candidates() if (m := scale.match(item)) is not None]
    if not found:
        return []
    found = _coated(found, scale)
    found.sort(key=lambda m: (-m.score, -scale.spoken_of(m.entry.id), m.entry.id))
    near = [m for m in found if m.score >= max(OFFERED, FALL * found[0].score)]
    nature = _nature(found[0].entry) if found[0].score >= SURE else _likeliest(near)
    return [m for m in near if nature is None or _nature(m.entry) in (None, nature)]


def _likeliest(near: Sequence[Match]) -> tuple[bool, bool] | None:
    """Find the nature that speaks for the most of the matches, by their scores."""
    said: Counter[tuple[bool, bool] | None] = Counter()
    for match in near:
        said[_nature(match.entry)] += round(match.score)
    return max((nature for nature in said if nature is not None), key=lambda n: said[n], default=None)


def _nature(entry: Entry) -> tuple[bool, bool] | None:
    """Say what no material is in two ways; None for what is no material, or a coat on another."""
    if entry.kind != "substrate" or entry.facts["thin_layer"]:
        return None
    return entry.facts["organic"], entry.facts["metallic"]


def _coated(found: Sequence[Match], scale: _Scale) -> list[Match]:
    """Move what carries the typed finish over a relative of the typed base to the head of `found`.

    "Painted S235" is first a painted steel, though no name of one says S235.
    """
    phrase = scale.phrase
    finishes = {sense for senses in phrase.senses for sense in senses if sense in phrase.lexicon.finishes}
    bare = [m.entry for m in found if finishes and not m.entry.facts.get("thin_layer")]
    bases = {entry.id: entry.family for entry in bare if any(map(designations, scale.whole(entry.id)))}
    coats = {item for word in finishes for item in phrase.items(word)}

    def lifted(match: Match) -> Match:
        if match.entry.id in coats and match.entry.facts.get("base_family") in bases.values():
            return match._replace(score=PARTIAL)
        return match._replace(score=max(match.score, PARTIAL - LEAD)) if match.entry.id in bases else match

    return list(map(lifted, found))


class _Scale:
    """Weighs the names of items against a phrase."""

    def __init__(self, phrase: Phrase) -> None:
        self.phrase = phrase
        self.lexicon = phrase.lexicon
        self._total = sum(len(phrase.knowledge.by_kind.get(kind, ())) for kind in phrase.kinds)
        self._rarities, self._totals = phrase.knowledge.rarities.setdefault(phrase.kinds, ({}, {}))
        self._codes = Counter(atom for atom in phrase.atoms if code(atom))
        self._runs = {squeezed(run) for run in designations(phrase.atoms)}
        self._strange, self._told = len(phrase.strange()), len(phrase.told())
        pairs = zip(phrase.atoms, phrase.senses, strict=True)
        self._weights = [self._weight(atom, senses) for atom, senses in pairs]

    def candidates(self) -> list[str]:
        """List items with at least one word of the phrase that is more than a form, in a stable order."""
        words = [s for senses in self.phrase.senses for s in senses if s not in self.lexicon.forms]
        return list(dict.fromkeys(item for word in words for item in self.phrase.items(word)))

    def match(self, item: str) -> Match | None:
        """Give the item as a match; None where only stray numbers, or a word or two of many, speak for it."""
        names = self.phrase.names[item]
        entry = self.phrase.knowledge.entries[item]
        whole = self.whole(item)
        if self._strange >= (NONSENSE * self._told if whole else self._told):
            return None
        codes: Counter[str] = Counter()
        runs = [run for name in names for run in designations(name) if squeezed(run) in self._runs]
        for met in (*whole, *runs):
            codes |= Counter(atom for atom in met if code(atom))
        covered = 0.0
        for senses, weight in zip(self.phrase.senses, self._weights, strict=True):
            near = [
                self.phrase.heard[s] for s in senses if item in self.phrase.items(s) and (not code(s) or codes[s] > 0)
            ]
            if near:
                covered += weight * max(near)
            codes.subtract(s for s in senses if code(s))
        total = sum(self._weights)
        if not covered or not total:
            return None
        family = FAMILY * self._met(self.phrase.families[entry.family])
        best = max(family, *map(self._met, names))
        score = 100 * covered / total * (COVERED + (1 - COVERED) * best)
        how = "alias" if any(self._is_all(name) for name in whole) else "fuzzy"
        return Match(entry, how, round(min(score, 99.9 if whole else PARTIAL), 1))

    def whole(self, item: str) -> list[tuple[str, ...]]:
        """List the item's names that were typed whole."""
        return [name for name in self.phrase.names[item] if self._is_whole(name)]

    def spoken_of(self, item: str) -> float:
        """Tell how much of the item's names was typed, on average: which of equals is meant sooner."""
        names = self.phrase.names[item]
        return sum(map(self._met, names)) / len(names)

    def _is_whole(self, name: Sequence[str]) -> bool:
        """Tell whether every word of the name was typed, its numbers as often as it has them."""
        if not all(atom in self.phrase.heard for atom in name):
            return False
        if all(map(code, name)) and not self._in_order(name):
            return False
        return all(self._codes[a] >= n for a, n in Counter(a for a in name if code(a)).items())

    def _in_order(self, name: Sequence[str]) -> bool:
        """Tell whether the name stands in the phrase as it is: Z600 is not 600Z."""
        atoms = self.phrase.atoms
        return any(atoms[start : start + len(name)] == [*name] for start in range(len(atoms)))

    def _is_all(self, name: Sequence[str]) -> bool:
        """Tell whether nothing but form words was typed beside the name, and nothing of it misspelt."""
        if any(self.phrase.heard[atom] < 1 for atom in name):
            return False
        return all(
            any(s in name for s in senses) or atom in self.lexicon.forms
            for atom, senses in zip(self.phrase.atoms, self.phrase.senses, strict=True)
        )

    def _met(self, name: Sequence[str]) -> float:
        """Give the share of a name that was typed, by the rarity of its words."""
        key = tuple(name)
        if key not in self._totals:
            self._totals[key] = sum(map(self._rarity, key))
        return sum(self._rarity(atom) for atom in key if atom in self.phrase.heard) / self._totals[key]

    def _weight(self, atom: str, senses: Sequence[str]) -> float:
        if atom in self.lexicon.forms:
            return FORM
        rarity = max((self._rarity(s) for s in senses), default=STRANGE)
        return rarity * FINISH if any(s in self.lexicon.finishes for s in senses) else rarity

    def _rarity(self, atom: str) -> float:
        if atom not in self._rarities:
            self._rarities[atom] = math.log(1 + self._total / max(1, len(self.phrase.items(atom))))
        return self._rarities[atom]
