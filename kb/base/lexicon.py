"""Typed words as comparable ones: one spelling each, numbers apart from letters, sizes and tempers set aside.

Names in the catalog and what a user types go through the same steps, so that neither side need know the other's
language, symbols or punctuation. What stands for what is data: generic_catalog/words.toml and designations.toml.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping
from typing import Any

from kb.base.plurals import singulars

_WORD = re.compile(r"[a-z0-9]+(?:\.[0-9]+)*")
_ATOM = re.compile(r"[a-z]+|\d+(?:\.\d+)*")
#: A shorter word is never taken apart, and of a shorter stem no ending is cut.
_COMPOUND, _STEM = 7, 6


class Lexicon:
    """The spellings and word classes of words.toml, and what designations.toml says stands around a designation.

    >>> lexicon = Lexicon({"spellings": {"al": "aluminium"}, "ignored": [r"(?<=\\d{4})[ -]*t\\d+"], "forms": ["rod"]})
    >>> lexicon.atoms("AL6061-T651 Rod")
    ('aluminium', '6061', 'rod')
    """

    def __init__(self, table: Mapping[str, Any]) -> None:
        self._systems = frozenset(table.get("systems", ()))
        self._silent = self._systems.union(table.get("fillers", ()))
        self._linking = tuple(table.get("linking", ("",)))
        self._inflections = tuple(table.get("inflections", ()))
        self.forms = frozenset(table.get("forms", ()))
        self.finishes = frozenset(table.get("finishes", ()))
        self.lies_on_it = frozenset(table.get("lies_on_it", ()))
        self.opposites = tuple(table.get("opposites", ()))
        self.shifting = frozenset(table.get("shifting", ()))
        self.compounds = frozenset(table.get("compounds", ()))
        self.distinct = tuple(table.get("distinct", ()))
        self._ignored = re.compile("|".join(table.get("ignored", ())) or r"(?!)")
        self._endings: Mapping[str, str] = table.get("endings", {})
        self._parts: Mapping[str, str] = table.get("parts", {})
        self._spellings: Mapping[str, str] = table.get("spellings", {})
        self._translations: Mapping[str, str] = table.get("translations", {})
        self._runs: Mapping[str, str] = table.get("runs", {})
        self._changes = (*table.get("confusions", ()), *table.get("rewrites", ()))
        self._standards = re.compile("|".join(table.get("standards", ())) or r"(?!)")
        self._conditions = re.compile("|".join(table.get("conditions", ())) or r"(?!)")

    def atoms(self, text: str) -> tuple[str, ...]:
        """List the words and numbers of `text` in order, without small words, systems of names, and sizes."""
        return self._parted(self._plain(text))

    def readings(self, text: str) -> tuple[tuple[str, ...], ...]:
        """Read `text` as it stands, then without numbers of standards, without conditions, without both.

        A reading that leaves nothing is none: a standard's number may be the very name.

        >>> table = {"standards": [r"\\bastm a ?240\\b"], "conditions": [r"\\bannealed\\b"]}
        >>> Lexicon(table).readings("ASTM A240 304 annealed")[-1]
        ('304',)
        """
        plain = self._plain(text)
        bare = self._standards.sub(" ", plain)
        found = (plain, bare, self._conditions.sub(" ", plain), self._conditions.sub(" ", bare))
        return tuple(dict.fromkeys(atoms for text in found if (atoms := self._parted(text))))

    def systems(self, text: str) -> set[str]:
        """List the systems of designations that `text` names ("AISI")."""
        return {*re.findall(r"[a-z]+", folded(text))} & self._systems

    def numbers(self, text: str) -> tuple[tuple[str, ...], ...]:
        """Read each number of a standard in `text`, alone: it may name what the standard is about."""
        found = (match.group() for match in self._standards.finditer(self._plain(text)))
        return tuple(atoms for number in found if (atoms := self._parted(number)))

    def tokens(self, text: str) -> tuple[tuple[str, ...], ...]:
        """Part `text` at its blanks, folded, with and without numbers of standards and conditions."""
        plain = self._plain(text)
        bare = self._conditions.sub(" ", self._standards.sub(" ", plain))
        return tuple(dict.fromkeys(tuple(re.findall(r"[a-z0-9./-]+", found)) for found in (plain, bare)))

    def _plain(self, text: str) -> str:
        """Fold `text`, put slips of the eye right and leave sizes out."""
        plain = folded(text, keep=True)
        for pattern, right in self._changes:
            plain = re.sub(pattern, right, plain)
        return self._ignored.sub(" ", plain)

    def _parted(self, plain: str) -> tuple[str, ...]:
        found: list[str] = []
        for word in _WORD.findall(plain):
            if word not in self._silent and not self._undone(word):
                for part in self._spelled(word).split():
                    pieces = _ATOM.findall(part)
                    found += [self._spelled(piece) for piece in pieces] if len(pieces) > 1 else pieces
        joined = f" {' '.join(found)} "
        for run, one in self._runs.items():
            joined = joined.replace(f" {run} ", f" {one} ")
        return tuple(joined.split())

    def _undone(self, word: str) -> bool:
        """Tell whether it says that a finish is not there: "unpainted" says nothing of the material."""
        return any(
            word.startswith(opposite) and self._spelled(word.removeprefix(opposite)) in self.finishes
            for opposite in self.opposites
        )

    def _spelled(self, word: str) -> str:
        if word in self._translations:
            return self._translations[word].lower()
        for ending in self._inflections:
            stem = word.removesuffix(ending)
            if stem != word and len(stem) >= _STEM and stem in self._translations:
                return self._translations[stem].lower()
        for part, other in self._parts.items():
            word = word.replace(part, other)
        for ending, other in self._endings.items():
            if word.endswith(ending):
                word = word[: -len(ending)] + other
        return self._spellings.get(word) or self._of_several(word) or self._compound(word) or word

    def _of_several(self, word: str) -> str:
        """Spell the singular of a short form in the plural: "PCBs"; "" where it is none."""
        return next((self._spellings[one] for one in singulars(word) if one in self._spellings), "")

    def _compound(self, word: str) -> str:
        """Part a word of another language that is two of its words in one; "" where it isn't."""
        for cut in range(3, len(word) - 2) if len(word) >= _COMPOUND else ():
            head, tail = word[:cut], word[cut:]
            heads = (head.removesuffix(link) for link in self._linking if head.endswith(link))
            known = next((h for h in heads if h in self._translations), None)
            if known and tail in self._translations:
                return f"{self._translations[known]} {self._translations[tail]}".lower()
        return ""


def folded(text: str, keep: bool = False) -> str:
    """Give `text` in lower case and without accents, separators as blanks; with `keep` the separators stay.

    >>> folded("Aluminium  6061_T6")
    'aluminium 6061 t6'
    """
    plain = "".join(c for c in unicodedata.normalize("NFKD", text.casefold()) if not unicodedata.combining(c))
    plain = plain.replace("\N{GREEK SMALL LETTER MU}m", "um")
    return plain if keep else " ".join(re.sub(r"[^a-z0-9%.]+", " ", plain).split())


def squeezed(atoms: Iterable[str]) -> str:
    """Give the atoms in one run: names that differ in blanks and points only are the same.

    >>> squeezed(("polyamide", "6.6")) == squeezed(("poly", "amide", "66"))
    True
    """
    return "".join(atoms).replace(".", "")


def run_of(atoms: Iterable[str]) -> str:
    """Give the atoms in one run, in whichever order they were typed.

    >>> run_of(("room", "cure", "epoxy")) == run_of(("epoxy", "room", "cure"))
    True
    """
    return " ".join(sorted(atoms))
