"""The pictograms that go with hazard statements, drawn by us after the system of the United Nations, each in words.

Which goes with which statement is a table of the catalog. Every one that a statement asks for is shown: a label may
leave out what a graver one covers. The symbol is black on white in a red frame: it is read without colour too.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from kb.report.hazards import wording
from kb.report.pages import render


class Pictogram(NamedTuple):
    """One pictogram: what it says in a word or two, and its drawing."""

    id: str
    says: str
    svg: str


def pictograms(statements: Iterable[str]) -> list[Pictogram]:
    """Give the pictograms of statements by code, each once, in the order of the table."""
    codes = set(statements)
    rows = [row for row in wording()["pictograms"] if codes & set(row["statements"])]
    return [Pictogram(row["id"], row["says"], render("pictogram.svg", **row)) for row in rows]
