"""Abrasives with the grade that is said beside them: "P240 emery paper", "sandpaper 400", "80 grit".

A number alone stands for that of every scale, the European one with a P too: 400 is several papers.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, NamedTuple

from kb.base.errors import BadInput
from kb.knowledge import Entry

KIND = "abrasive"
_NUMBER = re.compile(r"(?<![\w.])(?P<p>p)?\s?(?P<number>\d{2,4})(?![\w.])", re.IGNORECASE)


class Graded(NamedTuple):
    """What is graded, in words, and the grades that its number may be; `said`: a word of grading stands there, too."""

    rest: str
    grades: tuple[str, ...]
    said: bool


def meant(
    words: str, asked: Mapping[str, Any], called: Callable[[str, str], Iterable[Sequence[Entry]]], where: str
) -> tuple[Entry, ...]:
    """Give the abrasives of the grade in `words`; none where no grade is said. BadInput where none is of that.

    `called` gives the abrasives that words without a grade mean.
    """
    said = _parted(words, asked["graded"])
    found = next(iter(called(said.rest, where)), ()) if said else ()
    if said is None or not found:
        return ()
    members = tuple(entry for entry in found if entry.facts.get("grade") in said.grades)
    if said.said and not members:
        known = sorted({entry.facts["grade"] for entry in found}, key=lambda grade: (len(grade), grade))
        raise BadInput(where, f"'{words}': none of that grade is known", f"write one of: {', '.join(known)}")
    return members


def _parted(words: str, table: Mapping[str, Any]) -> Graded | None:
    """Part words into what is graded and its grade; None where there is no one number that may be one.

    >>> table = {"words": ("grit",), "alone": "sandpaper", "alone_for": ("", "paper")}
    >>> _parted("wet and dry 320", table)
    Graded(rest='wet and dry', grades=('320', 'P320'), said=False)
    >>> _parted("P80 paper", table)
    Graded(rest='sandpaper', grades=('P80',), said=True)
    """
    found = list(_NUMBER.finditer(words))
    if len(found) != 1:
        return None
    (grade,) = found
    of = f"{words[: grade.start()]} {words[grade.end() :]}".lower().split()
    rest = " ".join(word for word in of if word not in table["words"])
    number, said = grade["number"], bool(grade["p"]) or not set(of).isdisjoint(table["words"])
    grades = (f"P{number}",) if grade["p"] else (number, f"P{number}")
    return Graded(table["alone"] if rest in table["alone_for"] else rest, grades, said)
