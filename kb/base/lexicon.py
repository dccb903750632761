"""Typed words as comparable ones: one spelling each, numbers apart from letters, sizes and tempers set aside.

Names in the catalog and what a user types go through the same steps, so that neither side need know the other's
English, symbols or punctuation. What stands for what is data: generic_catalog/words.toml.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping
from typing import Any

_WORD = re.compile(r"[a-z0-9]+(?:\.[0-9]+)*")
_ATOM = re.compile(r"[a-z]+|\d+(?:\.\d+)*")


class Lexicon:
    """The spellings and word classes of words.toml.

    >>> lexicon = Lexicon({"spellings": {"al": "aluminium"}, "ignored": [r"(?<=\\d{4})[ -]*t\\d+"], "forms": ["rod"]})
    >>> lexicon.atoms("AL6061-T651 Rod")
    ('aluminium', '6061', 'rod')
    """

    def __init__(self, table: Mapping[str, Any]) -> None:
        self._silent = frozenset((*table.get("fillers", ()), *table.get("systems", ())))
        self.forms = frozenset(table.get("forms", ()))
        self.finishes = frozenset(table.get("finishes", ()))
        self.opposites = tuple(table.get("opposites", ()))
        self.distinct = tuple(table.get("distinct", ()))
        self._ignored = re.compile("|".join(table.get("ignored", ())) or r"(?!)")
        self._endings: Mapping[str, str] = table.get("endings", {})
        self._parts: Mapping[str, str] = table.get("parts", {})
        self._spellings: Mapping[str, str] = table.get("spellings", {})
        self._runs: Mapping[str, str] = table.get("runs", {})

    def atoms(self, text: str) -> tuple[str, ...]:
        """The words and numbers of `text` in order, without small words, names of standards, sizes and tempers."""
        plain = self._ignored.sub(" ", folded(text, keep=True))
        found: list[str] = []
        for word in _WORD.findall(plain):
            if word not in self._silent:
                for part in self._spelled(word).split():
                    pieces = _ATOM.findall(part)
                    found += [self._spelled(piece) for piece in pieces] if len(pieces) > 1 else pieces
        joined = f" {' '.join(found)} "
        for run, one in self._runs.items():
            joined = joined.replace(f" {run} ", f" {one} ")
        return tuple(joined.split())

    def _spelled(self, word: str) -> str:
        for part, other in self._parts.items():
            word = word.replace(part, other)
        for ending, other in self._endings.items():
            if word.endswith(ending):
                word = word[: -len(ending)] + other
        return self._spellings.get(word, word)


def folded(text: str, keep: bool = False) -> str:
    """`text` in lower case and without accents, separators as blanks; with `keep` the separators stay.

    >>> folded("Aluminium  6061_T6")
    'aluminium 6061 t6'
    """
    plain = "".join(c for c in unicodedata.normalize("NFKD", text.lower()) if not unicodedata.combining(c))
    return plain if keep else " ".join(re.sub(r"[^a-z0-9%.]+", " ", plain).split())


def squeezed(atoms: Iterable[str]) -> str:
    """The atoms in one run: names that differ in blanks and points only are the same.

    >>> squeezed(("polyamide", "6.6")) == squeezed(("poly", "amide", "66"))
    True
    """
    return "".join(atoms).replace(".", "")


def run_of(atoms: Iterable[str]) -> str:
    """The atoms in one run, in whichever order they were typed.

    >>> run_of(("room", "cure", "epoxy")) == run_of(("epoxy", "room", "cure"))
    True
    """
    return " ".join(sorted(atoms))
