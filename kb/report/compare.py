"""The answer to `compare`."""

from __future__ import annotations

from typing import Any

from kb.base.units import degrees
from kb.engine.why import Gap
from kb.planning.compare import Comparison, Side
from kb.quantities.layout import hours_of
from kb.report.first import points
from kb.report.ready import READY, ready_json
from kb.report.text import wrapped
from kb.report.trouble import conflict_json, conflict_words, items_of, relaxation_json
from kb.report.why import gap_json, gap_line
from kb.rules.words import duration, finding_json, message, shown

WIDTH = 36
#: No more refused items than this are told; `--json` holds them all.
MOST_TOLD = 12


def compare_json(found: Comparison) -> dict[str, Any]:
    """Give `tackroom.compare/1`; `a` is the side that was named first."""
    only = found.findings
    refused = found.excluded
    return {
        "schema": "tackroom.compare/1",
        "a": _side_json(found.one),
        "b": _side_json(found.other),
        "conditions": [{"field": field, "a": one, "b": other} for field, one, other in found.conditions],
        "slots": [{"slot": slot, "a": one or None, "b": other or None} for slot, one, other in found.slots],
        "gaps": [gap_json(gap) for gap in found.gaps],
        "findings": {"only_a": [finding_json(f) for f in only[0]], "only_b": [finding_json(f) for f in only[1]]},
        "excluded": {"only_a": refused[0], "only_b": refused[1]},
    }


def _side_json(side: Side) -> dict[str, Any]:
    chain = side.chain
    return {
        "name": side.name,
        "outcome": "planned" if chain else "no-chain",
        "items": items_of(chain) if chain else None,
        "cost": chain.cost if chain else None,
        **(ready_json(hours_of(side.plan, chain)) if chain else dict.fromkeys(READY)),
        "conflict": conflict_json(side.trouble) if side.trouble else None,
        "relaxations": [relaxation_json(r) for r in side.trouble.relaxations] if side.trouble else [],
    }


def compare_text(found: Comparison) -> str:
    """Conditions, slots, times and points in two columns; then what is said of one side only."""
    lines = [_row("", f"A: {found.one.name}", f"B: {found.other.name}")]
    lines += [_row(field, shown(one), shown(other)) for field, one, other in found.conditions]
    lines += [_row(slot, one or "-", other or "-") for slot, one, other in found.slots if one != other]
    sides = (found.one.chain, found.other.chain)
    lines.append(_row("cure", *(f"{degrees(c.cure['temperature_c'])} degC" if c and c.cure else "-" for c in sides)))
    lines.append(_row("ready after", *map(_ready, (found.one, found.other))))
    same = "; ".join(f"{slot} {one}" for slot, one, other in found.slots if one == other)
    if same:
        lines += ["", wrapped(same, "THE SAME IN BOTH: ", 2)]
    if said := counts_words(found):
        lines += ["", wrapped(said, "")]
    if found.gaps:
        lines += ["", "WHERE THEY DIFFER (value of A, value of B, points of each)", *map(gap_line, found.gaps)]
    for name, side in zip("AB", (found.one, found.other), strict=True):
        if side.trouble is not None:
            lines += ["", wrapped(conflict_words(side.trouble), f"WHY {name} HAS NO CHAIN: ", 2)]
    for name, findings in zip("AB", found.findings, strict=True):
        told = [f for f in findings if f.verdict != "prefer"]
        if told:
            lines += ["", f"SAID OF {name} ONLY"]
            lines += [wrapped(f"{message(f)} [{f.rule.id}]", f"  {f.verdict}: ", 4) for f in told]
    for name, ids in zip("AB", found.excluded, strict=True):
        if ids:
            more = f" and {len(ids) - MOST_TOLD} more" if len(ids) > MOST_TOLD else ""
            lines += ["", wrapped(", ".join(ids[:MOST_TOLD]) + more, f"REFUSED UNDER {name} ONLY: ", 2)]
    return "".join(f"{line.rstrip()}\n" for line in lines)


def counts_words(found: Comparison) -> str:
    """Say which of two chains comes first and what counts for and against it; "" where one of them is none."""
    if found.one.chain is None or found.other.chain is None:
        return ""
    ahead = found.other.chain.cost - found.one.chain.cost
    if not ahead:
        return "They count the same: between equals the order of the catalog decides."
    better, sign = (found.one, 1) if ahead > 0 else (found.other, -1)
    gained = [(gap.criterion, sign * (gap.points[1] - gap.points[0])) for gap in found.gaps]
    for_it = ", ".join(f"{name} ({points(gain)})" for name, gain in gained if gain > 0)
    against = ", ".join(f"{name} ({points(-gain)})" for name, gain in gained if gain < 0)
    said = f"{better.name} is better by {points(abs(ahead))}: for it counts {for_it or 'nothing by itself'}"
    return f"{said[:1].upper()}{said[1:]}{f'; against it, {against}' if against else ''}."


def gap_words(names: tuple[str, str], gap: Gap) -> str:
    """Say for which of two chains a criterion counts, and how much.

    >>> gap_words(("chain 1", "chain 2"), Gap("time", "min", (30, 60), (-4, 2)))
    'for chain 1, 6 points'
    """
    gain = gap.points[1] - gap.points[0]
    if not gain:
        return "for neither"
    return f"for {names[gain < 0]}, {points(abs(gain))}"


def _ready(side: Side) -> str:
    return duration(hours_of(side.plan, side.chain).ready_after_min) if side.chain else "NO CHAIN"


def _row(name: str, one: str, other: str) -> str:
    mark = "" if one == other else "  *"
    return f"{name:<26} {one:<{WIDTH}} {other}{mark if name else ''}"
