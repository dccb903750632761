"""What was typed, and which words of the names each of its words may stand for.

A word may be misspelt, run together with its neighbour, or torn apart; a number is never taken for another.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import groupby

from rapidfuzz import process
from rapidfuzz.distance import OSA

from kb.base.lexicon import Lexicon, squeezed
from kb.base.plurals import numbers
from kb.knowledge import Knowledge
from kb.knowledge.lookup import unpacked

#: A shorter number or letter alone names nothing.
DESIGNATION = 3
#: Edits allowed in a word by its length, most first. In a shorter one a letter may be missing of a word that is longer,
#: and two may have changed places; one of three must be right.
_EDITS = ((11, 3), (7, 2), (5, 1))
_SHORTEST = 4
#: A word that is less like what it may stand for is as likely another word: "aluzinc" is no alumina.
_ALIKE = 0.75


@dataclass
class Phrase:
    """Typed words, with the words of the names of `kinds` that they may stand for."""

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

    def __post_init__(self) -> None:
        known = unpacked(self.knowledge.tables["lookup"]["packed"])
        self.postings: Mapping[str, tuple[str, ...]] = known["atoms"]
        self.families: Mapping[str, tuple[str, ...]] = self.knowledge.tables["lookup"]["families"]
        self.names: Mapping[str, tuple[tuple[str, ...], ...]] = known["names"]
        self._found: dict[str, dict[str, None]] = {}
        self.atoms = [part for atom in self.typed for part in self._parted(atom)]
        for place in range(len(self.atoms)):
            senses = dict(self._senses(place))
            self.senses.append(tuple(senses))
            for sense, likeness in senses.items():
                self.heard[sense] = max(likeness, self.heard.get(sense, 0.0))

    def corrected(self) -> tuple[str, ...]:
        """Give the words as the names spell them: each by the likest word that it may stand for, or as it is."""
        likest = (max(senses, key=lambda sense: self.heard[sense], default="") for senses in self.senses)
        return tuple(
            word if self.heard.get(word, 0.0) >= _ALIKE else atom for atom, word in zip(self.atoms, likest, strict=True)
        )

    def strange(self) -> list[str]:
        """List the words, not numbers, that no name has."""
        pairs = zip(self.atoms, self.senses, strict=True)
        return [atom for atom, senses in pairs if not senses and not code(atom) and atom not in self.lexicon.forms]

    def told(self) -> list[str]:
        """List the words and numbers that stand for a word of some name and are more than a form."""
        pairs = zip(self.atoms, self.senses, strict=True)
        return [atom for atom, senses in pairs if senses and atom not in self.lexicon.forms]

    def items(self, atom: str) -> dict[str, None]:
        """Give the items of the kinds asked for that have the word in a name or their family, in catalog order."""
        if atom not in self._found:
            items = self.postings.get(atom, ())
            self._found[atom] = dict.fromkeys(i for i in items if self.knowledge.entries[i].kind in self.kinds)
        return self._found[atom]

    def _senses(self, place: int) -> Iterator[tuple[str, float]]:
        """Give words of the names that the typed word at `place` may stand for, with how like they are, 0 to 1."""
        atom = self.atoms[place]
        same = next((form for form in numbers(atom) if self.items(form)), None)
        if same is not None:
            yield same, 1.0
        joined = [word for word in self._joined(place) if self.items(word)]
        yield from ((word, 1.0) for word in joined)
        known = atom in self.postings or atom in self.lexicon.forms or atom in self.lexicon.lies_on_it
        if same is None and not joined and not known:
            yield from self._misspelt(atom)

    def _joined(self, place: int) -> Iterator[str]:
        """Give the word together with the one before or after it: "poly carbonate"."""
        for first in range(max(0, place - 1), min(place + 1, len(self.atoms) - 1)):
            pair = self.atoms[first : first + 2]
            if all(atom.isalpha() for atom in pair):
                yield "".join(pair)

    def _parted(self, atom: str) -> tuple[str, ...]:
        """Give the word as two that names have ("copperfoil"), where it is in none itself."""
        if not any(form in self.postings for form in numbers(atom)):
            for cut in range(3, len(atom) - 2):
                if self.items(atom[:cut]) and self.items(atom[cut:]):
                    return atom[:cut], atom[cut:]
        return (atom,)

    def _misspelt(self, atom: str) -> Iterator[tuple[str, float]]:
        """Give the words that are the fewest edits away, if these are few for its length."""
        allowed = next((edits for length, edits in _EDITS if len(atom) >= length), 1)
        if len(atom) < _SHORTEST or code(atom):
            return
        likely = process.extract(atom, list(self.postings), scorer=OSA.distance, score_cutoff=allowed, limit=None)
        if len(atom) == _SHORTEST:
            likely = [row for row in likely if len(row[0]) > len(atom) or sorted(row[0]) == sorted(atom)]
        # Hardly anybody gets the first letter wrong and another one besides: "slubber" is no rubber.
        near = [
            (word, edits, at)
            for word, edits, at in likely
            if (edits < 2 or word[0] == atom[0]) and self._may_be(atom, word) and self.items(word)
        ]
        least = min((edits for _, edits, _ in near), default=0)
        for word, edits, _ in near:
            if edits == least:
                yield word, 1 - edits / max(len(word), len(atom))

    def _may_be(self, atom: str, word: str) -> bool:
        """Tell whether it may be misspelt so: like in length and beginning, no opposite, no sister substance."""
        if code(word) or abs(len(word) - len(atom)) > 3 or (len(atom) < 7 and word[0] != atom[0]):
            return False
        if any(atom == opposite + word or word == opposite + atom for opposite in self.lexicon.opposites):
            return False
        ends = [next((e for e in self.lexicon.distinct if w.endswith(e)), "") for w in (atom, word)]
        return not all(ends) or ends[0] == ends[1] or atom[: -len(ends[0])] != word[: -len(ends[1])]


def code(atom: str) -> bool:
    """Tell whether an atom is a number or a single letter: part of a designation, and no word."""
    return len(atom) < 2 or not atom.isalpha()


def designations(atoms: Iterable[str]) -> list[tuple[str, ...]]:
    """Give the runs of numbers and letters among `atoms` that are long enough to name something.

    >>> designations(("polyamide", "6", "cast", "p", "400"))
    [('p', '400')]
    """
    runs = (tuple(run) for is_code, run in groupby(atoms, code) if is_code)
    return [run for run in runs if len(squeezed(run)) >= DESIGNATION]
