"""A material's name, or a class's, with words beside it that are not known here: a place, a use, an unknown grade.

"Steel part from the workshop" is steel, and "workshop" is told to be unknown. A word beside it that is known says
something of the material ("glass filled", "painted"), and then it is for the user to say what is meant.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from kb.base.lexicon import Lexicon, folded, squeezed
from kb.knowledge import Entry, Knowledge
from kb.materials import classes, identify
from kb.materials.identify.phrase import DESIGNATION, Phrase, code

#: How sure a name is taken with strange words beside it: more than what is asked about, less than the bare name.
_SCORE = 90.0
#: So many strange words are let stand beside a class, and beside a single material.
_BESIDE_CLASS, _BESIDE_ITEM = 2, 1
#: A shorter word is no name on its own.
_WORD = 3


@dataclass(frozen=True)
class Qualified:
    """The class or the item that is named, and what was typed beside it that is not known."""

    named: Entry | classes.Class
    not_known: tuple[str, ...]
    score: float = _SCORE


@dataclass(frozen=True)
class _Head:
    """A name within the phrase: what it names and the places that it takes up."""

    named: Entry | classes.Class
    start: int
    end: int

    @property
    def rank(self) -> tuple[int, int]:
        """Order heads: longer names first; of equal ones a class with words of its own, then an item, then a family."""
        if isinstance(self.named, Entry):
            return self.end - self.start, 1
        return self.end - self.start, 0 if self.named.get("of") == "family" else 2


def qualified(words: str, knowledge: Knowledge) -> Qualified | None:
    """Find what `words` name with strange words beside it; None where they name nothing, or say more that is known."""
    lexicon = knowledge.lexicon
    if (clean := _without_dirt(words, knowledge, lexicon)) is not None:
        return clean
    for reading in lexicon.readings(words):
        phrase = Phrase(reading, knowledge, frozenset(("substrate",)), lexicon)
        head = max(_heads(phrase, bool(lexicon.systems(words))), key=lambda h: h.rank, default=None)
        found = None if head is None else _beside(head, phrase)
        if found is not None:
            return None if _joined(words, found.not_known, lexicon) else found
    return _of_system(words, knowledge, lexicon)


def _without_dirt(words: str, knowledge: Knowledge, lexicon: Lexicon) -> Qualified | None:
    """Find what `words` name but for what lies on it: "greasy 4140" is 4140."""
    typed = words.split()
    clean = [word for word in typed if folded(word) not in lexicon.lies_on_it]
    if not clean or len(clean) == len(typed):
        return None
    matches = identify.identify(" ".join(clean), knowledge, ("substrate",))
    dirt = tuple(folded(word) for word in typed if word not in clean)
    return Qualified(matches[0].entry, dirt) if matches and identify.clear(matches) else None


def named_in(words: str, knowledge: Knowledge) -> list[str]:
    """List the names of materials and classes within `words`, the longest first: what they may be, for all else said.

    >>> from kb.knowledge import load
    >>> named_in("polystyrene cup", load())
    ['polystyrene']
    """
    lexicon = knowledge.lexicon
    phrase = Phrase(lexicon.atoms(words), knowledge, frozenset(("substrate",)), lexicon)
    if lexicon.compounds.intersection(phrase.atoms):
        return []
    found = _heads(phrase, bool(lexicon.systems(words)))
    as_typed = (
        head
        for head in found
        if phrase.corrected()[head.start : head.end] == tuple(phrase.atoms)[head.start : head.end]
    )
    heads = sorted(as_typed, key=lambda head: head.rank, reverse=True)
    longest = [head for head in heads if head.end - head.start == heads[0].end - heads[0].start]
    names = (h.named.id if isinstance(h.named, Entry) else str(h.named["words"][0]) for h in longest)
    return list(dict.fromkeys(names))


def _joined(words: str, strange: Sequence[str], lexicon: Lexicon) -> bool:
    """Tell whether a hyphen joins a strange word to a known one: the two are one name, and another than the known."""
    hyphened = (set(lexicon.atoms(typed)) for typed in folded(words, keep=True).split() if "-" in typed)
    return any(atoms & {*strange} and atoms - {*strange} - lexicon.forms for atoms in hyphened)


def _heads(phrase: Phrase, named: bool) -> Iterator[_Head]:
    """Find every name within the phrase, of a class or a single item, that cuts no designation in two.

    A bare number is none, unless its system is `named`, or it is letters and numbers enough to speak for itself.
    """
    said = phrase.corrected()
    for start in range(len(said)):
        for end in range(start + 1, len(said) + 1):
            run = said[start:end]
            if all(code(atom) or len(atom) < _WORD for atom in run) and not (named or _speaks(run)):
                continue
            if any(0 < cut < len(said) and code(said[cut - 1]) and code(said[cut]) for cut in (start, end)):
                continue
            for row in classes.rows(phrase.knowledge):
                if run in row["atoms"]:
                    yield _Head(row, start, end)
            items = _called(run, phrase)
            if len(items) == 1:
                yield _Head(items[0], start, end)


def _speaks(run: Sequence[str]) -> bool:
    """Tell whether a designation can be nothing else: "S355", "X5CrNi18-10", but not "2024"."""
    text = squeezed(run)
    return len(text) > DESIGNATION and not text.isdigit() and not text.isalpha()


def _called(run: Sequence[str], phrase: Phrase) -> list[Entry]:
    """List the materials that are called just so."""
    ids = phrase.knowledge.tables["lookup"]["runs"].get(squeezed(run), ())
    return [e for i in ids if (e := phrase.knowledge.entries[i]).kind == "substrate"]


def _beside(head: _Head, phrase: Phrase) -> Qualified | None:
    """Take the head with what stands beside it, where none of that is known to say something of the material.

    A known designation beside its class is the item that it names.
    """
    rest = [place for place in range(len(phrase.atoms)) if not head.start <= place < head.end]
    strange: list[str] = []
    for is_code, places in groupby(rest, lambda place: _in_designation(place, phrase)):
        atoms = [phrase.atoms[place] for place in places]
        if is_code and len(squeezed(atoms)) >= DESIGNATION and (items := _called(atoms, phrase)):
            return _of_class(head, items)
        strange += ["".join(atoms)] if is_code else atoms
    said = [atom for atom in strange if atom not in phrase.lexicon.forms]
    words = [atom for atom in said if atom.isalpha()]
    if any(_says_something(atom, phrase) or atom in phrase.lexicon.compounds for atom in words):
        return None
    before = phrase.atoms[head.start - 1] if head.start else ""
    if phrase.atoms[head.start] in phrase.lexicon.shifting and before in words:
        return None
    if isinstance(head.named, Entry):
        # A number beside a single material is another grade of it, or another material.
        designated = any(map(code, phrase.atoms[head.start : head.end]))
        most = _BESIDE_CLASS if designated else _BESIDE_ITEM
        return Qualified(head.named, tuple(said)) if 0 < len(said) == len(words) <= most else None
    return Qualified(head.named, tuple(said)) if len(words) <= _BESIDE_CLASS else None


def _in_designation(place: int, phrase: Phrase) -> bool:
    """Tell whether the word is a number, or the letters before one."""
    atom, after = phrase.atoms[place], phrase.atoms[place + 1 : place + 2]
    return code(atom) or (len(atom) <= _WORD and atom not in phrase.lexicon.forms and bool(after) and code(after[0]))


def _says_something(atom: str, phrase: Phrase) -> bool:
    """Tell whether a word is known of some material or good, or is a finish that was misspelt; dirt says nothing."""
    if atom in phrase.lexicon.lies_on_it:
        return False
    senses = phrase.senses[phrase.atoms.index(atom)]
    return atom in senses or atom in phrase.postings or any(sense in phrase.lexicon.finishes for sense in senses)


def _of_class(head: _Head, items: Sequence[Entry]) -> Qualified | None:
    """Find the one of `items` that belongs to the class that was named."""
    if isinstance(head.named, Entry):
        return None
    found = [item for item in items if item.family == head.named["family"]]
    return Qualified(found[0], ()) if len(found) == 1 else None


def _of_system(words: str, knowledge: Knowledge, lexicon: Lexicon) -> Qualified | None:
    """Find the class that a standard's system gives an unknown designation: EN 1.4xxx is stainless."""
    for tokens in lexicon.tokens(words):
        for start, end in _spans(len(tokens)):
            run = " ".join(tokens[start:end])
            for row in knowledge.tables["words"].get("belongs", ()):
                if re.fullmatch(row["pattern"], run):
                    rest = [*tokens[:start], *tokens[end:]]
                    if _says_no_more(rest, row["class"], knowledge, lexicon):
                        known_class = classes.class_meant(row["class"], knowledge)
                        return None if known_class is None else Qualified(known_class, (run,))
    return None


def _spans(number: int) -> list[tuple[int, int]]:
    """List runs of up to three tokens, longest first."""
    found = [(start, end) for start in range(number) for end in range(start + 1, min(start + 3, number) + 1)]
    return sorted(found, key=lambda span: span[0] - span[1])


def _says_no_more(rest: Sequence[str], name: str, knowledge: Knowledge, lexicon: Lexicon) -> bool:
    """Tell whether the other words are forms, or words of the class itself."""
    atoms: tuple[Any, ...] = lexicon.atoms(" ".join(rest))
    row = classes.class_meant(name, knowledge)
    own = {atom for words in row["atoms"] for atom in words} if row else set()
    return all(atom in lexicon.forms or atom in own for atom in atoms)
