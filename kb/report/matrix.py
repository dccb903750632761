"""The grid of verdicts: as a document, as text, as a table for a spreadsheet, and as a page."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Any, NamedTuple

from kb.engine.check import NOT_KNOWN, VERDICTS, Checked, Grid
from kb.report.check import unknown_words, worst_first
from kb.rules.findings import Finding
from kb.rules.words import message
from kb.stock.tables import defused, written

#: How each verdict is drawn in one character; they differ without colour.
SIGNS = {"blocked": "X", "needs": "n", "caution": "c", NOT_KNOWN: "?", "compatible": "·"}
#: So many reasons stand in a cell.
REASONS = 2


class Cell(NamedTuple):
    """What a cell says: the verdict, the strongest reasons, and what would make it right."""

    verdict: str
    reasons: tuple[str, ...]
    mend: str


def cell_of(checked: Checked) -> Cell:
    """Give the cell for what was checked."""
    against = [f for f in worst_first(checked.findings) if f.verdict != "prefer"]
    reasons = [f"{message(f)} [{f.rule.id}]" for f in against[:REASONS]]
    if not against:
        reasons = [unknown_words(u) for u in checked.unknown[:REASONS]] or [
            f"{message(f)} [{f.rule.id}]" for f in checked.suits[:REASONS]
        ]
    return Cell(checked.verdict, tuple(reasons), next(filter(None, map(_mend, against)), ""))


def _mend(finding: Finding) -> str:
    """Tell what would make it right: what to do instead; of a wait or a step, the rule's sentence says it already."""
    return finding.rule.instead or finding.rule.step_do


def _rows(grid: Grid) -> Iterator[tuple[str, str, Cell]]:
    for row, line in zip(grid.rows, grid.cells, strict=True):
        for column, one in zip(grid.columns, line, strict=True):
            yield row, column, cell_of(one)


def grid_json(grid: Grid) -> dict[str, Any]:
    """Give `tackroom.matrix/1`."""
    cells = [
        {
            "row": row,
            "column": column,
            "verdict": cell.verdict,
            "unseen": cell.verdict == NOT_KNOWN,
            "reason": cell.reasons[0] if cell.reasons else None,
            "reasons": list(cell.reasons),
            "mend": cell.mend or None,
        }
        for row, column, cell in _rows(grid)
    ]
    return {"schema": "tackroom.matrix/1", "kinds": list(grid.kinds), "counts": counts(grid), "cells": cells}


def counts(grid: Grid) -> dict[str, int]:
    """Tell how many cells there are of each verdict, the worst first."""
    found = Counter(one.verdict for line in grid.cells for one in line)
    return {verdict: found[verdict] for verdict in reversed(VERDICTS)}


def resting_on(grid: Grid) -> dict[str, int]:
    """Tell how many approvals of the grid rest on each basis, by the weakest of what approves a cell."""
    order = ("memory", "common-practice", "by-definition", "computed", "dataset", "handbook", "standard")
    bases = ({f.rule.basis for f in one.suits} for line in grid.cells for one in line if one.verdict == "compatible")
    return dict(Counter(min(found, key=order.index) for found in bases if found))


def legend() -> str:
    """Tell what the signs stand for.

    >>> legend()
    'X blocked, n needs, c caution, ? not known, · compatible'
    """
    return ", ".join(f"{sign} {verdict.replace('-', ' ')}" for verdict, sign in SIGNS.items())


def grid_text(grid: Grid) -> str:
    """Write a sign for each cell; columns by number."""
    width = max((len(r) for r in grid.rows), default=0)
    lines = [f"{grid.kinds[0]} by {grid.kinds[1]}: {legend()}", summary(grid), ""]
    lines += [f"  {n:>3} {name}" for n, name in enumerate(grid.columns, start=1)]
    lines += ["", " " * width + "".join(f"{n:>4}" for n in range(1, len(grid.columns) + 1))]
    for row, line in zip(grid.rows, grid.cells, strict=True):
        lines.append(f"{row:<{width}}" + "".join(f"{SIGNS[one.verdict]:>4}" for one in line))
    return "".join(f"{line}\n" for line in lines)


def summary(grid: Grid) -> str:
    """Tell how the cells are distributed, and how many approvals rest on memory."""
    told = ", ".join(f"{number} {verdict.replace('-', ' ')}" for verdict, number in counts(grid).items() if number)
    recalled = resting_on(grid).get("memory", 0)
    return f"{told}." + (f" {recalled} of the approvals rest on what is recalled: confirm them." if recalled else "")


def grid_csv(grid: Grid) -> str:
    """Give a row a pair."""
    columns = (*grid.kinds, "verdict", "reason", "second reason", "what would make it right")
    rows = (
        (row, column, cell.verdict, *(*cell.reasons, "", "")[:REASONS], cell.mend) for row, column, cell in _rows(grid)
    )
    return written(columns, (map(defused, row) for row in rows), "\n")


def shown_rows(grid: Grid) -> list[tuple[str, list[Cell]]]:
    """Give the grid for a page: each row with its cells."""
    return [(row, [cell_of(one) for one in line]) for row, line in zip(grid.rows, grid.cells, strict=True)]


def grid_html(grid: Grid) -> str:
    """Make one self-contained page: each cell a word and its reasons."""
    from kb.report.pages import render

    return render(
        "matrix.html",
        title=f"{grid.kinds[0]} by {grid.kinds[1]}",
        legend=legend(),
        summary=summary(grid),
        signs=SIGNS,
        columns=grid.columns,
        rows=shown_rows(grid),
    )
