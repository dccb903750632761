"""The map of what the knowledge covers, as a document."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping

from kb.planning.coverage import Cell


def markdown(cells: Iterable[Cell]) -> str:
    """The table as a document: one section a family, one row a column."""
    rows: dict[str, list[Cell]] = {}
    for one in cells:
        rows.setdefault(one.family, []).append(one)
    lines = [
        "# What the knowledge covers",
        "",
        "Written by `python -m kb.reference`; a test holds it to the knowledge. For each substrate family (by its",
        "plainest member), a part of 5 mm at 15 to 35 degC in each exposure for a week and for a year,",
        "and in dry air for a week on a ladder of temperatures: the families of the best chain's adhesive and coats,",
        "or the rules that close it. A closed cell is a fact of the trade as the rules state it: see `tackroom rules`.",
        "",
        *_summary(rows),
    ]
    for family, found in rows.items():
        lines += [
            "",
            f"## {family} ({found[0].part})",
            "",
            "| surroundings | adhesive | coats, innermost first |",
            "|---|---|---|",
        ]
        lines += [row(one) for one in found]
    return "\n".join(lines) + "\n"


def row(one: Cell) -> str:
    """A cell as a row of its family's table."""
    if one.adhesive:
        return f"| {one.column} | {one.adhesive} | {', '.join(one.coats) or 'none'} |"
    return f"| {one.column} | none | closed by {', '.join(one.closed_by)} |"


def _summary(rows: Mapping[str, list[Cell]]) -> Iterator[str]:
    total = sum(map(len, rows.values()))
    closed = Counter(rule for found in rows.values() for one in found for rule in one.closed_by[:1])
    yield f"{total} cells, {total - sum(closed.values())} with a chain. What closes the others, most often first:"
    yield ""
    for rule, count in sorted(closed.items(), key=lambda c: (-c[1], c[0])):
        yield f"- {rule}: {count}"
