"""The answer to `explain JOB ITEM`."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from kb.engine.chain import Chain
from kb.engine.why import Gap, Why
from kb.report.first import points
from kb.report.text import STANDING, capitalize_first, listed, wrapped
from kb.report.trouble import change_words, conflict_json, items_of, no_such, relaxation_json, search_json
from kb.rules.findings import Finding
from kb.rules.words import duration, finding_json, message, seen_words, shown

_SAID = {
    "in": "is in the first chain",
    "behind": "is allowed, but another chain comes first",
    "out": "is out: no chain for this job can use it",
}
#: No more ways in than this are told; `--json` holds them all.
MOST_TOLD = 5


def why_json(why: Why) -> dict[str, Any]:
    """Give `tackroom.explain/1`."""
    return {
        "schema": "tackroom.explain/1",
        "job": why.job.job.name,
        "substrate": why.substrate.id,
        "item": why.item.id,
        "kind": why.item.kind,
        "family": why.item.family,
        "standing": why.standing,
        "message": why_words(why),
        "findings": [finding_json(f) for f in why.findings],
        "first": _chain_json(why.first),
        "held_against": _chain_json(why.other),
        "gaps": [gap_json(gap) for gap in why.gaps],
        "conflict": conflict_json(why.way_in) if why.way_in else None,
        "relaxations": [relaxation_json(r) for r in why.way_in.relaxations] if why.way_in else [],
        "search": search_json(why.way_in) if why.way_in else None,
    }


def _chain_json(chain: Chain | None) -> dict[str, Any] | None:
    if chain is None:
        return None
    return {"items": items_of(chain), "cost": chain.cost, "critical_path_min": round(chain.critical_path_min, 3)}


def gap_json(gap: Gap) -> dict[str, Any]:
    """Give one criterion: the first value is the first chain's."""
    return {"criterion": gap.criterion, "unit": gap.unit, "values": list(gap.values), "points": list(gap.points)}


def why_text(why: Why) -> str:
    """Give the standing, then each reason with the facts seen, then what it lost by or what would let it in."""
    lines = [wrapped(why_words(why), ""), ""]
    for finding in why.findings:
        lines += _finding(finding)
    if why.way_in is not None:
        lines += _ways_in(why)
    elif why.gaps:
        lines += _gaps(why)
    lines.append(wrapped(STANDING, ""))
    return "".join(f"{line}\n" for line in lines)


def why_words(why: Why) -> str:
    """Tell the standing in one or two sentences, and what a search that was stopped leaves open."""
    if why.bound is None:
        return _standing(why)
    missed = f"any chain {_which(why)} that it missed costs {points(why.bound)} or more"
    return f"{_standing(why)} The search was too wide and was stopped at its limit: {missed}."


def _standing(why: Why) -> str:
    said = f"{capitalize_first(why.item.name)} {_SAID[why.standing]}."
    if why.standing == "out" and why.way_in is not None:
        return f"{said} {_no_way(why)}" if not why.way_in.relaxations else said
    if why.first is None or why.other is None:
        return f"{said} No chain does without it." if why.standing == "in" else said
    behind = why.other.cost - why.first.cost
    if not behind:
        return f"{said} The best chain {_which(why)} costs as much; between equals the order of the catalog decides."
    lost = [f"{points} by {gap.criterion}" for gap in why.gaps if (points := gap.points[1] - gap.points[0]) > 0]
    won = [f"{points} by {gap.criterion}" for gap in why.gaps if (points := gap.points[0] - gap.points[1]) > 0]
    gained = f" and wins {listed(won)}" if won else ""
    return (
        f"{said} The best chain {_which(why)} is {behind} points dearer: it loses {listed(lost) or 'nothing'}{gained}."
    )


def _which(why: Why) -> str:
    return "with it" if why.standing == "behind" else "without it"


def _no_way(why: Why) -> str:
    assert why.way_in is not None
    if not why.way_in.complete:
        return f"No change that lets it in was found among the {why.way_in.plans} jobs tried; there may be one."
    if not why.way_in.conflict:
        return f"No change to the job that was tried lets it in on {why.substrate.name}."
    return "No change of up to three of the job's requirements lets it in."


def _finding(finding: Finding) -> Iterator[str]:
    basis = f"{finding.rule.basis}{': ' + ', '.join(finding.rule.sources) if finding.rule.sources else ''}"
    yield wrapped(f"{message(finding)} [{finding.rule.id}; {basis}]", f"  {finding.verdict}: ", 4)
    yield wrapped(finding.rule.because, "    because: ", 13)
    if finding.seen:
        yield wrapped(seen_words(finding.seen), "    seen:    ", 13)
    for name, _, result, value in finding.calculations:
        told = shown(float(value)) if isinstance(value, (int, float)) else value
        yield f"    worked out: {name}: {result} = {told}"
    if finding.rule.instead:
        yield wrapped(finding.rule.instead, "    instead: ", 13)
    yield ""


def _ways_in(why: Why) -> Iterator[str]:
    assert why.way_in is not None
    ways = why.way_in.relaxations
    if not ways:
        if why.way_in.conflict:
            yield wrapped(f"{no_such(why.way_in.conflict).replace('Nothing', 'With it nothing', 1)}.", "")
            yield ""
        elif why.way_in.tried:
            tried = ", ".join(why.way_in.tried)
            yield wrapped(f"Tried: {tried}, all of them let go. Of other fields of the job nothing is said.", "")
            yield ""
        return
    yield "What would let it in, least first (each was planned again):"
    for way in ways[:MOST_TOLD]:
        said = listed([change_words(change) for change in way.changes])
        yield wrapped(f"{capitalize_first(said)}.", "  - ", 4)
    if len(ways) > MOST_TOLD:
        yield f"  and {len(ways) - MOST_TOLD} more; --json holds them all"
    if not why.way_in.complete:
        yield f"  Stopped after {why.way_in.plans} jobs: there may be more."
    yield ""


def _gaps(why: Why) -> Iterator[str]:
    yield f"  {'':<26} {'first chain':>14} {_which(why):>14}   points"
    yield from (gap_line(gap) for gap in why.gaps)
    yield ""


def gap_line(gap: Gap) -> str:
    """Write one criterion of two chains side by side, with the points that each pays for it."""
    one, other = (duration(v) if gap.unit == "min" else f"{shown(float(v))} {gap.unit}" for v in gap.values)
    return f"  {gap.criterion:<26} {one:>14} {other:>14}   {gap.points[0]} : {gap.points[1]}"
