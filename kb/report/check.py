"""Answers to `check` and `matrix`."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from typing import Any

from kb.engine.check import Checked, Grid
from kb.engine.remedies import Remedy
from kb.report.text import wrapped
from kb.rules.findings import Finding
from kb.rules.words import finding_json, message, shown
from kb.stock.tables import defused

_SAID = {
    "blocked": "BLOCKED: never together",
    "needs": "NEEDS: together only as said below",
    "caution": "CAUTION: together, and read this",
    "compatible": "COMPATIBLE: no rule speaks against it",
}
_UNSEEN = "NOT KNOWN: no rule looks at these together; that is no approval"


def check_json(checked: Checked, remedies: Sequence[Remedy] = (), unseen: bool = False) -> dict[str, Any]:
    """`tackroom.check/1`. `unseen`: no rule looks at two of the things at once."""
    return {
        "schema": "tackroom.check/1",
        "items": list(checked.items),
        "classes": {name: list(members) for name, members in checked.classes.items()},
        "verdict": checked.verdict,
        "unseen": unseen,
        "findings": [finding_json(f) for f in checked.findings],
        "remedies": [
            {"do": "swap" if r.item else "add", "item": r.item or None, "by": list(r.by), "verdict": r.verdict}
            for r in remedies
        ],
    }


def check_text(checked: Checked, remedies: Sequence[Remedy] = (), unseen: bool = False) -> str:
    """The verdict, then each finding with its reason, what to do instead, and its basis; then what would do."""
    lines = [" + ".join(checked.items), f"  {_UNSEEN if unseen else _SAID[checked.verdict]}"]
    lines += [wrapped(class_words(name, members), "  ") for name, members in checked.classes.items()]
    for finding in _worst_first(checked.findings):
        sources = f": {', '.join(finding.rule.sources)}" if finding.rule.sources else ""
        said = f"{message(finding)} [{finding.rule.id}; {finding.rule.basis}{sources}]"
        lines += [wrapped(said, f"  {finding.verdict}: ", 4)]
        lines += [wrapped(finding.rule.because, "    because: ", 13)]
        if finding.rule.instead:
            lines += [wrapped(finding.rule.instead, "    instead: ", 13)]
        for name, _, result, value in finding.calculations:
            told = shown(float(value)) if isinstance(value, (int, float)) else value
            lines += [f"    worked out: {name}: {result} = {told}"]
    if remedies:
        lines.append("  What would do:")
        lines += [wrapped(remedy_words(remedy), "  - ", 4) for remedy in remedies]
    lines.append("Class values only: the data sheets of the items on your shelf rule. Try it on an offcut.")
    return "".join(f"{line}\n" for line in lines)


def class_words(name: str, members: Sequence[str]) -> str:
    """What stands for a material of which only the class is known.

    >>> class_words("acetal", ("acetal-copolymer", "acetal-homopolymer"))
    "Which acetal isn't said: each fact is taken at the cautious end of acetal-copolymer and acetal-homopolymer."
    """
    listed = " and ".join(filter(None, (", ".join(members[:-1]), members[-1])))
    return f"Which {name.replace('-', ' ')} isn't said: each fact is taken at the cautious end of {listed}."


def remedy_words(remedy: Remedy) -> str:
    """One remedy as something to do.

    >>> remedy_words(Remedy("acetone", ("ethanol", "isopropyl-alcohol"), "compatible"))
    'in place of acetone take ethanol or isopropyl-alcohol: compatible'
    """
    named = " or ".join(filter(None, (", ".join(remedy.by[:-1]), remedy.by[-1])))
    said = f"in place of {remedy.item} take {named}" if remedy.item else f"add {named}"
    return f"{said}: {remedy.verdict}"


def _worst_first(findings: Iterable[Finding]) -> list[Finding]:
    order = ("block", "need", "caution", "prefer")
    return sorted(findings, key=lambda f: order.index(f.verdict))


def reason(checked: Checked) -> str:
    """The worst finding in a sentence, with its rule; empty where nothing speaks against it."""
    found = [f for f in _worst_first(checked.findings) if f.verdict != "prefer"]
    return f"{message(found[0])} [{found[0].rule.id}]" if found else ""


def grid_json(grid: Grid) -> dict[str, Any]:
    """`tackroom.matrix/1`."""
    cells = [
        {"row": r, "column": c, "verdict": one.verdict, "reason": reason(one) or None}
        for r, line in zip(grid.rows, grid.cells, strict=True)
        for c, one in zip(grid.columns, line, strict=True)
    ]
    return {"schema": "tackroom.matrix/1", "kinds": list(grid.kinds), "cells": cells}


_SIGN = {"blocked": "X", "needs": "n", "caution": "c", "compatible": "."}


def grid_text(grid: Grid) -> str:
    """One letter a cell: X blocked, n needs, c caution, a dot compatible; columns by number."""
    width = max((len(r) for r in grid.rows), default=0)
    lines = [f"{grid.kinds[0]} by {grid.kinds[1]}: X blocked, n needs, c caution, . compatible", ""]
    lines += [f"  {n:>3} {name}" for n, name in enumerate(grid.columns, start=1)]
    lines += ["", " " * width + "".join(f"{n:>4}" for n in range(1, len(grid.columns) + 1))]
    for row, line in zip(grid.rows, grid.cells, strict=True):
        lines.append(f"{row:<{width}}" + "".join(f"{_SIGN[one.verdict]:>4}" for one in line))
    return "".join(f"{line}\n" for line in lines)


def grid_csv(grid: Grid) -> str:
    """A row a pair."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([*grid.kinds, "verdict", "reason"])
    for cell in grid_json(grid)["cells"]:
        writer.writerow([defused(str(cell[k] or "")) for k in ("row", "column", "verdict", "reason")])
    return out.getvalue()


def grid_html(grid: Grid) -> str:
    """One self-contained page: each cell a word, with its reason on hover and in a table below."""
    from kb.report.pages import render

    rows = [
        (
            row,
            [
                {"column": c, "verdict": one.verdict, "reason": reason(one)}
                for c, one in zip(grid.columns, line, strict=True)
            ],
        )
        for row, line in zip(grid.rows, grid.cells, strict=True)
    ]
    return render("matrix.html", title=f"{grid.kinds[0]} by {grid.kinds[1]}", columns=grid.columns, rows=rows)
