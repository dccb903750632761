"""Two tables as pictures: every pair of two kinds, and what the knowledge covers."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from kb.base.vocabulary import FAMILIES
from kb.engine.check import NOT_KNOWN, Grid
from kb.planning.coverage import Cell
from kb.report.coverage import said
from kb.report.matrix import SIGNS, cell_of, legend, summary
from kb.report.pictures.drawing import Picture, drawn

_CHARACTER = 6.6
#: Of every family that can hold a gauge: adhesives, and backings that are welded on.
_LETTERS = dict(zip((*FAMILIES["adhesive"], *FAMILIES["backing"]), "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdef", strict=False))


def matrix_picture(grid: Grid) -> Picture:
    """Give a sign for each pair: X blocked (hatched), n needs, c caution, ? not known, a dot compatible."""
    signs = [[(SIGNS[one.verdict], one.verdict == "blocked") for one in line] for line in grid.cells]
    lines = [
        f"{across} with {down}: {cell.verdict.replace('-', ' ')}" + (f": {cell.reasons[0]}" if cell.reasons else "")
        for down, line in zip(grid.rows, grid.cells, strict=True)
        for across, one in zip(grid.columns, line, strict=True)
        if (cell := cell_of(one)).verdict not in ("compatible", NOT_KNOWN)
    ]
    return _table(
        "matrix",
        f"Pairs: {grid.kinds[0]} by {grid.kinds[1]}",
        f"{len(grid.rows)} by {len(grid.columns)} pairs: {summary(grid)} Named below: what speaks against a pair.",
        lines,
        grid.rows,
        grid.columns,
        signs,
        [f"{legend()} (blocked is hatched)"],
        16,
    )


def coverage_picture(cells: Iterable[Cell]) -> Picture:
    """Draw the best chain by substrate family and surrounding: its adhesive as a letter, its coats as a number."""
    rows: dict[str, list[Cell]] = {}
    for one in cells:
        rows.setdefault(one.family, []).append(one)
    columns = [one.column for one in next(iter(rows.values()), [])]
    signs = [[(_sign(one), not one.adhesive) for one in line] for line in rows.values()]
    closed = sum(not one.adhesive and one.possible for line in rows.values() for one in line)
    met = {one.adhesive for line in rows.values() for one in line}
    named = [f"{letter} {family}" for family, letter in _LETTERS.items() if family in met]
    half = (len(named) + 1) // 2
    return _table(
        "coverage",
        "What the knowledge covers: substrate family by surroundings",
        f"{len(rows)} families in {len(columns)} surroundings; {closed} cells have no chain.",
        [f"{one.family}: {one.column}: {said(one)}" for line in rows.values() for one in line],
        list(rows),
        columns,
        signs,
        [
            "Letter: the best chain's adhesive. Number: its coats. Hatched: no chain; empty: the part can't be there.",
            f"{'; '.join(named[:half])};",
            "; ".join(named[half:]),
        ],
        26,
    )


def _sign(one: Cell) -> str:
    if one.adhesive:
        return f"{_LETTERS[one.adhesive]}{len(one.coats)}"
    return "-" if one.possible else ""


def _table(
    name: str,
    title: str,
    summary: str,
    lines: Sequence[str],
    rows: Sequence[str],
    columns: Sequence[str],
    signs: Sequence[Sequence[tuple[str, bool]]],
    legend: Sequence[str],
    cell: int,
) -> Picture:
    left = round(max(map(len, rows), default=0) * _CHARACTER) + 16
    top = round(max(map(len, columns), default=0) * _CHARACTER) + 44
    needed = round(max(map(len, (title, *legend))) * _CHARACTER) + 20
    return drawn(
        "picture_grid.svg",
        name,
        title,
        lines,
        summary=summary,
        width=max(left + cell * len(columns) + 12, needed),
        height=top + 16 * len(rows) + 16 + 18 * len(legend),
        rows=list(enumerate(zip(rows, signs, strict=True))),
        columns=list(enumerate(columns)),
        legend=list(enumerate(legend)),
        left=left,
        top=top,
        cell=cell,
    )
