"""Write every generated page of docs/ anew: `python -m kb.reference [FOLDER]`."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

from kb import knowledge
from kb.engine.plan import Engine
from kb.planning.coverage import Cell, cell, columns, representatives
from kb.reference import census, commands
from kb.report import coverage


def pages() -> Iterator[tuple[str, str]]:
    """Give each page as (file name, text), with progress on standard error."""
    known = knowledge.load()
    yield "reference.md", commands.reference()
    yield "basis.md", census.markdown(known)
    engine = Engine(known)
    parts = list(representatives(known).values())
    cells: list[Cell] = []
    for number, entry in enumerate(parts, start=1):
        print(f"coverage, {number} of {len(parts)}: {entry.family}", file=sys.stderr)
        cells += [cell(engine, entry, column) for column in columns()]
    yield "coverage.md", coverage.markdown(cells)


if __name__ == "__main__":
    folder = Path(sys.argv[1] if len(sys.argv) > 1 else "docs")
    for name, text in pages():
        (folder / name).write_text(text, encoding="utf-8")
