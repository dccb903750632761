"""What happens for each substrate family in each surrounding: the map of what the knowledge can do.

A cell with no chain says which rules close it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from kb.base.vocabulary import EXPOSURES, FAMILIES
from kb.engine.plan import Engine, Plan
from kb.job import Job, job_of
from kb.knowledge import Entry, Knowledge
from kb.planning.ask import ask
from kb.rules.rule import Rule

#: How long each exposure is planned for: what keeps for a month need not keep for ten years [days].
SPANS = {"a day": 1.0, "a month": 30.0, "a year": 365.0, "ten years": 3650.0}
WEEK = 7.0
#: What a rule that shuts out the part itself reads: then no bonding helps, and the cell can't be.
OF_THE_PART = frozenset({"substrate", "part", "service"})
#: Highest service temperature of each rung, from room temperature down and up [degC].
LADDER = (-196.0, -40.0, 60.0, 80.0, 120.0, 180.0, 230.0, 300.0, 500.0, 800.0)
ROOM = (15.0, 35.0)


@dataclass(frozen=True, slots=True)
class Cell:
    """One family in one surrounding: the families of the best chain's bond and coats, or the rules that close it.

    Where the part itself can't be there, it is not `possible`: such a cell says nothing of bonding.
    """

    family: str
    part: str
    column: str
    adhesive: str
    coats: tuple[str, ...]
    closed_by: tuple[str, ...]
    possible: bool = True


def representatives(knowledge: Knowledge) -> dict[str, Entry]:
    """Give the plainest member of each substrate family: the one that says so, or else the one with the shortest id."""
    members: dict[str, list[Entry]] = {}
    for entry in knowledge.by_kind["substrate"]:
        members.setdefault(entry.family, []).append(entry)
    return {
        family: min(members[family], key=lambda e: (not e.facts.get("plainest"), len(e.id), e.id))
        for family in FAMILIES["substrate"]
        if family in members
    }


def job_for(substrate: str, span: tuple[float, float], exposures: Iterable[str], days: float) -> Job:
    """Give a plain job: a part of 5 mm, any clamp, no time limit."""
    data: dict[str, Any] = {
        "part": {"substrate": substrate, "thickness_mm": 5.0},
        "service": {"temperature_c": list(span), "exposures": list(exposures), "duration_days": days},
    }
    return job_of(data, "coverage")


def columns() -> dict[str, tuple[tuple[float, float], tuple[str, ...], float]]:
    """Temperature span, exposures and days of each column, by its heading."""
    found: dict[str, tuple[tuple[float, float], tuple[str, ...], float]] = {}
    for exposure in EXPOSURES:
        for span, days in SPANS.items():
            found[f"{exposure}, {span}"] = (ROOM, (exposure,), days)
    for rung in LADDER:
        range_c = (rung, ROOM[1]) if rung < ROOM[0] else (ROOM[0], rung)
        found[f"{rung:g} degC, a week"] = (range_c, ("dry-air",), WEEK)
    return found


def cell(engine: Engine, entry: Entry, column: str) -> Cell:
    """Plan one cell."""
    span, exposures, days = columns()[column]
    plan = ask(engine, job_for(entry.id, span, exposures, days), "coverage", 1).plan
    if not plan.chains:
        closed_by, possible = closing_rules(plan)
        return Cell(entry.family, entry.id, column, "", (), closed_by, possible)
    chain = plan.chains[0]
    adhesive = chain.pick("adhesive").entry
    bond = adhesive.family if adhesive else chain.pick("backing").entry.family  # type: ignore[union-attr]
    return Cell(entry.family, entry.id, column, bond, tuple(c.family for c in chain.coatings), ())


def closing_rules(plan: Plan) -> tuple[tuple[str, ...], bool]:
    """Find the rules that leave a slot with nothing, at most three, the one that refuses most first.

    Tell, too, whether any of it is a matter of bonding: rules that shut out the part itself say all there is to say.
    """
    counts: Counter[Rule] = Counter()
    for slot, remaining in enumerate(plan.screened.remaining):
        if not remaining:
            counts.update({rule: mask.bit_count() for rule, mask in plan.screened.closed_by[slot]})
    if not counts:
        counts.update(f.rule for _, findings in plan.excluded for f in findings)
    of_the_part = [rule for rule in counts if {*rule.roles(), *rule.about} <= OF_THE_PART]
    ordered = sorted(of_the_part or counts, key=lambda rule: (-counts[rule], rule.id))
    return tuple(rule.id for rule in ordered[:3]), not of_the_part
