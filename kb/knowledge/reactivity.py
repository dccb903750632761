"""The form of generic_catalog/reactivity.toml: what groups of substances do to each other when they are mixed."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Literal, Self

from pydantic import Field, model_validator

from kb.base.files import read_toml, validated
from kb.base.models import Basis, Id, Strict, Text

Letter = Literal["H", "F", "G", "GT", "GF", "E", "P", "S", "U"]


class LetterTable(Strict):
    """What a letter of the chart says, and what it is worth."""

    says: Text
    verdict: Literal["block", "caution"]


class OwnGroup(Strict):
    """A group for which the chart has no column: whatever holds one of its substances."""

    name: Text
    substances: tuple[Id, ...] = Field(min_length=1)


class Cell(Strict):
    """What two groups do to each other."""

    groups: tuple[Id, Id]
    does: tuple[Letter, ...] = Field(min_length=1)
    sure: bool = Field(True, description="read a second time; if not, it cautions at the most")
    because: str = ""
    basis: Basis | None = None
    source: Id | None = None
    locator: str = ""


class ReactivityTable(Strict):
    """The whole file; a cell has the basis and the source of the file unless it has its own."""

    basis: Basis
    source: Id
    locator: str
    letters: dict[Letter, LetterTable]
    own: dict[Id, OwnGroup]
    aids: dict[str, tuple[Id, ...]]
    cells: tuple[Cell, ...]

    @model_validator(mode="after")
    def _every_letter(self) -> Self:
        for cell in self.cells:
            for letter in cell.does:
                if letter not in self.letters:
                    raise ValueError(f"cells: '{letter}' is not among the letters")
        return self


def load_reactivity(path: Path) -> dict[str, Any]:
    """Load the cells by their two groups in order of name, the letters, and the members of the file's own groups."""
    shown = f"{path.parent.name}/{path.name}"
    table = validated(ReactivityTable, read_toml(path, shown), shown)
    cells: dict[str, Any] = {}
    for cell in table.cells:
        basis = cell.basis or table.basis
        source = cell.source or (table.source if cell.basis is None else "")
        worth = {table.letters[letter].verdict for letter in cell.does} if cell.sure else {"caution"}
        cells["|".join(sorted(cell.groups))] = {
            "does": tuple(table.letters[letter].says for letter in cell.does),
            "verdict": "block" if "block" in worth else "caution",
            "because": cell.because,
            "basis": basis,
            "sources": (source,) if source else (),
        }
    return {
        "cells": cells,
        "own": {group: row.substances for group, row in table.own.items()},
        "names": {group: row.name for group, row in table.own.items()},
        "aids": table.aids,
    }
