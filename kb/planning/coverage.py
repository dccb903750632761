"""What happens for each substrate family in each surrounding: the map of what the knowledge can do.

A cell with no chain says which rules close it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from kb.base.vocabulary import EXPOSURES, FAMILIES
from kb.engine.plan import Engine, Plan
from kb.job import Job, job_of
from kb.knowledge import Entry, Knowledge
from kb.planning.ask import ask

WEEK, YEAR = 7.0, 365.0
#: Highest service temperature of each rung, from room temperature down and up [degC].
LADDER = (-196.0, -40.0, 60.0, 80.0, 120.0, 180.0, 230.0, 300.0, 500.0, 800.0)
ROOM = (15.0, 35.0)


@dataclass(frozen=True, slots=True)
class Cell:
    """One family in one surrounding: the families of the best chain's bond and coats, or the rules that close it."""

    family: str
    part: str
    column: str
    adhesive: str
    coats: tuple[str, ...]
    closed_by: tuple[str, ...]


def representatives(knowledge: Knowledge) -> dict[str, Entry]:
    """The plainest member of each substrate family: named after the family if one is, with the shortest id."""
    members: dict[str, list[Entry]] = {}
    for entry in knowledge.by_kind["substrate"]:
        members.setdefault(entry.family, []).append(entry)
    return {
        family: min(members[family], key=lambda e: (not e.id.startswith(family), len(e.id), e.id))
        for family in FAMILIES["substrate"]
        if family in members
    }


def job_for(substrate: str, span: tuple[float, float], exposures: Iterable[str], days: float) -> Job:
    """A plain job: a part of 5 mm, any clamp, no time limit."""
    data: dict[str, Any] = {
        "part": {"substrate": substrate, "thickness_mm": 5.0},
        "service": {"temperature_c": list(span), "exposures": list(exposures), "duration_days": days},
    }
    return job_of(data, "coverage")


def columns() -> dict[str, tuple[tuple[float, float], tuple[str, ...], float]]:
    """Temperature span, exposures and days of each column, by its heading."""
    found: dict[str, tuple[tuple[float, float], tuple[str, ...], float]] = {}
    for exposure in EXPOSURES:
        found[f"{exposure}, a week"] = (ROOM, (exposure,), WEEK)
        found[f"{exposure}, a year"] = (ROOM, (exposure,), YEAR)
    for rung in LADDER:
        span = (rung, ROOM[1]) if rung < ROOM[0] else (ROOM[0], rung)
        found[f"{rung:g} degC, a week"] = (span, ("dry-air",), WEEK)
    return found


def cell(engine: Engine, entry: Entry, column: str) -> Cell:
    """One cell, planned."""
    span, exposures, days = columns()[column]
    plan = ask(engine, job_for(entry.id, span, exposures, days), "coverage", 1).plan
    if not plan.chains:
        return Cell(entry.family, entry.id, column, "", (), closing_rules(plan))
    chain = plan.chains[0]
    adhesive = chain.pick("adhesive").entry
    bond = adhesive.family if adhesive else chain.pick("backing").entry.family  # type: ignore[union-attr]
    return Cell(entry.family, entry.id, column, bond, tuple(c.family for c in chain.coatings), ())


def closing_rules(plan: Plan) -> tuple[str, ...]:
    """The rules that leave a slot with nothing, the one that refuses most first; at most three."""
    counts: Counter[str] = Counter()
    for slot, remaining in enumerate(plan.screened.remaining):
        if not remaining:
            counts.update({rule.id: mask.bit_count() for rule, mask in plan.screened.closed_by[slot]})
    if not counts:
        counts.update(f.rule.id for _, findings in plan.excluded for f in findings)
    return tuple(rule for rule, _ in sorted(counts.items(), key=lambda c: (-c[1], c[0]))[:3])


def table(engine: Engine) -> Iterator[Cell]:
    """Every cell: families in the order of the vocabulary, columns in order."""
    for entry in representatives(engine.knowledge).values():
        for column in columns():
            yield cell(engine, entry, column)
