"""The generated pages of docs/, each with what writes it."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Mapping

from kb.engine.plan import Engine
from kb.knowledge import Knowledge
from kb.planning.coverage import Cell, cell, columns, representatives
from kb.reference import census, commands
from kb.report import coverage


def _coverage(knowledge: Knowledge) -> str:
    """Plan every cell of the map, with progress on standard error."""
    return coverage.markdown(_cells(Engine(knowledge)))


def _cells(engine: Engine) -> Iterator[Cell]:
    parts = list(representatives(engine.knowledge).values())
    for number, entry in enumerate(parts, start=1):
        print(f"coverage, {number} of {len(parts)}: {entry.family}", file=sys.stderr)
        yield from (cell(engine, entry, column) for column in columns())


#: By file name.
PAGES: Mapping[str, Callable[[Knowledge], str]] = {
    "reference.md": lambda _: commands.reference(),
    "basis.md": census.markdown,
    "coverage.md": _coverage,
}
