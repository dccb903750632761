"""What happens for each substrate family in each surrounding: the map of what the knowledge can do.

A cell with no chain says which rules close it. docs/coverage.md is written by `python -m kb.reference` and
held to the knowledge by a test.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from kb.base.vocabulary import EXPOSURES, FAMILIES
from kb.engine.plan import Engine, Plan
from kb.job import Job, job_of
from kb.knowledge import Entry, Knowledge

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
    plan = engine.plan(job_for(entry.id, span, exposures, days), entry, top=1)
    if not plan.chains:
        return Cell(entry.family, entry.id, column, "", (), closing_rules(plan))
    chain = plan.chains[0]
    adhesive = chain.pick("adhesive").entry
    assert adhesive is not None
    return Cell(entry.family, entry.id, column, adhesive.family, tuple(c.family for c in chain.coatings), ())


def closing_rules(plan: Plan) -> tuple[str, ...]:
    """The rules that leave a slot with nothing, the one that refuses most first; at most three."""
    counts: Counter[str] = Counter()
    for slot, left in enumerate(plan.screened.left):
        if left == 0:
            counts.update({rule.id: mask.bit_count() for rule, mask in plan.screened.closed[slot]})
    if not counts:
        counts.update(f.rule.id for _, findings in plan.excluded for f in findings)
    return tuple(rule for rule, _ in sorted(counts.items(), key=lambda c: (-c[1], c[0]))[:3])


def table(engine: Engine) -> Iterator[Cell]:
    """Every cell: families in the order of the vocabulary, columns in order."""
    for entry in representatives(engine.knowledge).values():
        for column in columns():
            yield cell(engine, entry, column)


#: For whether an item is ever used: enough surroundings and parts to reach every family, and no more.
EASY_COLUMNS = ("dry-air, a week", "humid-air, a week", "80 degC", "120 degC")
PROBE_PARTS = (
    "stainless-steel", "aluminium-alloy", "solder-mask", "polyethylene", "fluoropolymer", "silicone-rubber", "glass",
    "concrete", "wood", "carbon-composite", "polycarbonate", "alumina-ceramic", "titanium-alloy", "rubber",
    "polymer-foam", "carbon-steel", "polypropylene",
)  # fmt: skip


def used_items(knowledge: Knowledge) -> set[str]:
    """Ids of all items that at least one probe job can use."""
    engine = Engine(knowledge)
    parts = {f: e for f, e in representatives(knowledge).items() if f in PROBE_PARTS}
    used: set[str] = set()
    everything = {o.id for domain in engine.domains for o in domain.options} - {""}
    for column in columns():
        for family, entry in parts.items():
            if family != "stainless-steel" and not column.startswith(EASY_COLUMNS):
                continue
            span, exposures, days = columns()[column]
            plan = engine.plan(job_for(entry.id, span, exposures, days), entry, top=1)
            if plan.chains:
                used |= everything - {item.id for item, _ in plan.excluded}
    return used


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


def main() -> None:
    """Prints the document, with progress on standard error."""
    import sys

    from kb import knowledge

    engine = Engine(knowledge.load())
    found: list[Cell] = []
    for number, entry in enumerate(parts := list(representatives(engine.knowledge).values()), start=1):
        print(f"{number} of {len(parts)}: {entry.family}", file=sys.stderr)
        found += [cell(engine, entry, column) for column in columns()]
    sys.stdout.write(markdown(found))


if __name__ == "__main__":
    main()
