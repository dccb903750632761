"""The map of what the knowledge covers, as a document."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence

from kb.planning.coverage import SPANS, Cell

_SAME = "the same"


def markdown(cells: Iterable[Cell]) -> str:
    """Give the table as a document: one section a family, one row a surrounding, one column a time in it."""
    rows: dict[str, list[Cell]] = {}
    for one in cells:
        rows.setdefault(one.family, []).append(one)
    lines = [
        "# What the knowledge covers",
        "",
        "Written by `python -m kb.reference`; a test holds it to the knowledge. For each substrate family (by its",
        "plainest member), a part of 5 mm in each exposure, at 15 to 35 degC or at what the exposure brings with it,",
        "for a day, a month, a year and ten years; and in dry air for a week on a ladder of temperatures: the families",
        f"of the best chain's adhesive and coats, innermost first, or the rules that close it. '{_SAME}' is the chain",
        "before it in its row. A closed cell is a fact of the trade as the rules state it: see `tackroom rules`. Where",
        "the part itself can't be there the cell says so, and counts neither way.",
        "",
        *_summary(rows),
    ]
    for family, found in rows.items():
        lines += ["", f"## {family} ({found[0].part})", "", f"| surroundings | {' | '.join(SPANS)} |", f"|{'---|' * 5}"]
        lines += [row(line) for line in by_surroundings(found) if len(line) == len(SPANS)]
        lines += ["", "| dry air for a week | chain |", "|---|---|"]
        lines += [row(line) for line in by_surroundings(found) if len(line) == 1]
    return "\n".join(lines) + "\n"


def by_surroundings(cells: Iterable[Cell]) -> Iterator[list[Cell]]:
    """Give the cells of a family, those of one exposure together."""
    lines: dict[str, list[Cell]] = {}
    for one in cells:
        lines.setdefault(one.column.rpartition(", ")[0], []).append(one)
    yield from lines.values()


def row(line: Sequence[Cell]) -> str:
    """Give the cells of one exposure as a row of their family's table."""
    told = [said(one) for one in line]
    shown = [_SAME if place and words == told[place - 1] else words for place, words in enumerate(told)]
    return f"| {line[0].column.rpartition(', ')[0]} | {' | '.join(shown)} |"


def said(one: Cell) -> str:
    """Give a cell in words."""
    if one.adhesive:
        return f"{one.adhesive}; {', '.join(one.coats) or 'bare'}"
    return f"{'closed by' if one.possible else 'can not be:'} {', '.join(one.closed_by)}"


def _summary(rows: Mapping[str, list[Cell]]) -> Iterator[str]:
    cells = [one for found in rows.values() for one in found]
    closed = Counter(one.closed_by[0] for one in cells if one.closed_by and one.possible)
    void = Counter(one.closed_by[0] for one in cells if one.closed_by and not one.possible)
    there = len(cells) - void.total()
    yield f"{there} cells, {there - closed.total()} with a chain. What closes the others, most often first:"
    yield ""
    yield from _counted(closed)
    yield ""
    yield f"{void.total()} more are none, since the part itself can't be there:"
    yield ""
    yield from _counted(void)


def _counted(rules: Mapping[str, int]) -> Iterator[str]:
    return (f"- {rule}: {count}" for rule, count in sorted(rules.items(), key=lambda c: (-c[1], c[0])))
