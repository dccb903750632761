"""Knowledge without meaning, of any size: items with facets, rules over facets, and one job.

The same problem comes in two forms: as `Knowledge` for the engine, and as plain tables (`Written`) from which a
user of a general solver would write it down. Slots are joined along the edges that the real rules join them by.

Two kinds: `clustered`, where each kind of item is many copies of a few archetypes in which a facet differs here and
there, as a distributor's list is; and `spread`, where facets are drawn one by one and almost every item is a class of
its own.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, NamedTuple

from kb.job import Job, job_of
from kb.knowledge import Entry, Knowledge
from kb.knowledge.tables import RankingTable
from kb.rules.clauses import Clause
from kb.rules.roles import OMITS_OF_SLOT, SLOT_ROLES
from kb.rules.rule import Rule

SLOTS = tuple(dict.fromkeys(slot for slots in SLOT_ROLES.values() for slot in slots))
KINDS = tuple(dict.fromkeys(slot.partition("_")[0] for slot in SLOTS))
COATS = ("coating_1", "coating_2", "coating_3")
FACETS, VALUES, ARCHETYPES = 8, 6, 24
#: How often a facet of a copy differs from its archetype's.
DIFFERS = 0.03
SINGLE = (
    "degreaser", "abrasive_dry", "abrasive_wet", "conditioner", "neutraliser", "treatment", "backing", "adhesive",
    "inner", "second", "coating",
)  # fmt: skip
EDGES = (
    ("degreaser", "abrasive_dry"), ("degreaser", "treatment"), ("abrasive_dry", "abrasive_wet"),
    ("abrasive_wet", "conditioner"), ("conditioner", "neutraliser"), ("neutraliser", "treatment"),
    ("treatment", "adhesive"), ("backing", "adhesive"), ("adhesive", "inner"), ("adhesive", "coating"),
    ("under", "over"),
)  # fmt: skip
RANKING: RankingTable = {
    "levels": {**{f"points-{points}": points for points in (0, 1, 2, 4, 5, 10, 20, 40)}, "caution": 100, "free": 0},
    "means": {},
    "verdicts": {
        "caution": "caution",
        "unknown": "points-40",
        "unknown-block": "caution",
        "need": "points-10",
        "prefer": "points-20",
    },
    "time": [{"level": "points-0", "hours": 1.0}],
    "heat": {"beyond_c": 30, "least_c": 45, "per_c": 10, "level": "points-0"},
    "steps": {"level": "points-4", "minutes": dict.fromkeys(SLOTS, 0.0)},
    "hazards": {"usual": "points-0", "of": {}},
    "known": {"common-practice": "points-1", "memory": "points-2", "handbook": "points-0"},
    "headroom": [],
    "prefer": {},
}


class Shape(NamedTuple):
    """Shares of rules: that join two slots; that ask something of the part; of these, that are meant for this part."""

    pairs: float
    of_part: float
    meant: float


#: Five rules in six speak for the job, and a quarter of all join two slots: much harder than knowledge of the trade is.
DENSE = Shape(0.4, 0.4, 0.5)
#: As in the shipped knowledge: one in nine joins two slots, and three in ten speak for a job.
AS_SHIPPED = Shape(0.11, 0.85, 0.02)


@dataclass(frozen=True)
class Term:
    """A slot that is filled, with a value of a facet among `values`; or, with `absent`, anything but that."""

    slot: str
    facet: int
    values: frozenset[int]
    absent: bool = False


@dataclass(frozen=True)
class Statement:
    """Where all terms hold: forbidden (no points), or so many points."""

    terms: tuple[Term, ...]
    points: int | None


#: Points, facets, and how many items are so.
Item = tuple[int, tuple[int, ...], int]


@dataclass(frozen=True)
class Written:
    """The problem as tables: for each slot its items, what holds, and which slots may be empty."""

    items: dict[str, list[Item]]
    statements: tuple[Statement, ...]
    may_be_empty: frozenset[str]

    def by_class(self) -> Written:
        """The same with like items as one."""
        items: dict[str, list[Item]] = {}
        for slot, rows in self.items.items():
            counts: dict[tuple[int, tuple[int, ...]], int] = {}
            for points, facets, count in rows:
                counts[points, facets] = counts.get((points, facets), 0) + count
            items[slot] = [(points, facets, count) for (points, facets), count in counts.items()]
        return Written(items, self.statements, self.may_be_empty)


@dataclass(frozen=True)
class Generated:
    knowledge: Knowledge
    job: Job
    substrate: Entry
    written: Written


def generated(size: int, rules: int, seed: int, clustered: bool, shape: Shape = DENSE) -> Generated:
    """`size` items of each kind, about `rules` rules over eight facets of six values, and a job."""
    draw = random.Random(f"{seed} {clustered}")
    part = tuple(draw.randrange(VALUES) for _ in range(FACETS))
    # Of more than 200 rules as many forbid as of 200, so that chains are left.
    forbids = [rules <= 200 or draw.random() < 200 / rules for number in range(rules)]
    made = [_rule(draw, number, part, strict, shape) for number, strict in enumerate(forbids)]
    empty = [(slot, draw.random() < 0.6) for slot in OMITS_OF_SLOT]
    omits = [_omission(slot, part, holds) for slot, holds in empty]
    rows = {kind: list(_rows(draw, size, clustered)) for kind in KINDS}
    entries = {e.id: e for kind in KINDS for e in _entries(kind, rows[kind])}
    substrate = Entry("part", "substrate", "f", "part", {"id": "part", "basis": "memory", **_named(part)})
    entries["part"] = substrate
    every_rule = tuple(sorted([rule for rule, _ in made] + omits, key=lambda rule: rule.id))
    knowledge = Knowledge(entries, every_rule, {}, {"ranking": RANKING}, f"generated {size} {rules} {seed}")
    job = job_of({"part": {"substrate": "part"}, "service": {"temperature_c": [20, 30]}}, "generated")
    step = _points(RANKING["steps"]["level"])
    items = {
        slot: [(step + _points(RANKING["known"][basis]), facets, 1) for basis, facets in rows[slot.partition("_")[0]]]
        for slot in SLOTS
    }
    statements = tuple(statement for _, statements in made for statement in statements)
    return Generated(knowledge, job, substrate, Written(items, statements, frozenset(s for s, holds in empty if holds)))


def _points(level: str) -> int:
    return int(RANKING["levels"][level])


def _named(facets: tuple[int, ...]) -> dict[str, str]:
    return {f"facet_{number}": f"v{value}" for number, value in enumerate(facets)}


def _rows(draw: random.Random, size: int, clustered: bool) -> Iterator[tuple[str, tuple[int, ...]]]:
    """Basis and facets of each item of a kind."""
    kinds = [_row(draw) for _ in range(ARCHETYPES)] if clustered else []
    for _ in range(size):
        if clustered:
            basis, facets = draw.choice(kinds)
            yield basis, tuple(draw.randrange(VALUES) if draw.random() < DIFFERS else value for value in facets)
        else:
            yield _row(draw)


def _row(draw: random.Random) -> tuple[str, tuple[int, ...]]:
    return draw.choice(tuple(RANKING["known"])), tuple(draw.randrange(VALUES) for _ in range(FACETS))


def _entries(kind: str, rows: list[tuple[str, tuple[int, ...]]]) -> Iterator[Entry]:
    for number, (basis, facets) in enumerate(rows):
        name = f"{kind}-{number}"
        facts: dict[str, Any] = {"id": name, "basis": basis, **_named(facets)}
        if kind == "adhesive":
            facts["schedules"] = ({"id": "only"},)
        yield Entry(name, kind, "f", name, facts)


def _rule(
    draw: random.Random, number: int, part: tuple[int, ...], strict: bool, shape: Shape
) -> tuple[Rule, list[Statement]]:
    """A rule in the engine's form, and what it states of each slot that its roles stand for."""
    roles = draw.choice(EDGES) if draw.random() < shape.pairs else (draw.choice(SINGLE),)
    reads = [(role, draw.randrange(FACETS), draw.randrange(VALUES)) for role in roles]
    when = [Clause(f"{role}.facet_{facet}", "is", f"v{value}") for role, facet, value in reads]
    speaks = True
    if draw.random() < shape.of_part:
        facet, value = draw.randrange(FACETS), draw.randrange(VALUES)
        value = part[facet] if draw.random() < shape.meant else value
        when.append(Clause(f"substrate.facet_{facet}", "is", f"v{value}"))
        speaks = part[facet] == value
    pair = len(roles) > 1
    verdicts = ("block", "block", "caution", "prefer", "need") if pair else ("block", "caution", "prefer")
    verdict = draw.choice(verdicts if strict else ("caution", "prefer"))
    extra: dict[str, Any] = {}
    points: int | None = None
    supplied: tuple[int, frozenset[int]] | None = None
    if verdict == "need":
        supplied = (draw.randrange(FACETS), frozenset(draw.sample(range(VALUES), 3)))
        wanted = tuple(f"v{value}" for value in sorted(supplied[1]))
        extra["needs"] = (Clause(f"treatment.facet_{supplied[0]}", "one-of", wanted),)
    elif verdict != "block":
        extra["level"] = draw.choice(("points-5", "points-10", "points-20", "points-40"))
        points = _points(extra["level"]) * (1 if verdict == "caution" else -1)
    name = f"rule-{number:05}"
    rule = Rule(name, name, verdict, roles, name, name, "", "memory", (), tuple(when), **extra)
    statements = []
    for slots in _standing(roles) if speaks else ():
        terms = [Term(slot, facet, frozenset((value,))) for slot, (_, facet, value) in zip(slots, reads, strict=True)]
        if supplied:
            terms.append(Term("treatment", *supplied, absent=True))
        statements.append(Statement(tuple(terms), points))
    return rule, statements


def _standing(roles: tuple[str, ...]) -> Iterator[tuple[str, ...]]:
    if roles == ("under", "over"):
        yield from (("coating_1", "coating_2"), ("coating_2", "coating_3"))
        return
    each = [SLOT_ROLES[role] for role in roles]
    first, last = each[0], each[-1]
    yield from ((slot,) for slot in first) if len(roles) == 1 else ((a, b) for a in first for b in last)


def _omission(slot: str, part: tuple[int, ...], holds: bool) -> Rule:
    """Lets a stage be left out, or would if the part were another."""
    stage = OMITS_OF_SLOT[slot]
    value = part[0] if holds else (part[0] + 1) % VALUES
    when = (Clause("substrate.facet_0", "is", f"v{value}"),)
    return Rule(f"omit-{stage}", stage, "prefer", ("substrate",), stage, stage, "", "memory", (), when, omits=stage)
