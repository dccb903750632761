"""When there is no chain: which of the job's own requirements can't all be met, and what would have to give.

A conflict is minimal: let any one of its requirements go, and it is no conflict any more. Relaxations are
found as hitting sets of conflicts: each set of changes that gives a chain must break every conflict.
A number is moved only as far as the knowledge's own limits ask, and each relaxation is planned again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from kb.clauses import AnyOf, Clause, Ref
from kb.engine.plan import Chain, Engine, Plan
from kb.engine.requirements import Requirement, requirements
from kb.job import Job
from kb.knowledge import Entry, Knowledge

#: No more plans than this are tried; what was found until then is given, and said to be incomplete.
MOST_PLANS = 1500
MOST_FIELDS = 3


@dataclass(frozen=True)
class Relaxation:
    """Changes to the job that give a chain, and the chain that they give."""

    changes: tuple[tuple[str, Any, Any], ...]
    gives: Chain
    asks: float


@dataclass(frozen=True)
class Trouble:
    """Why there is no chain, and what would give one. `complete` is False where the bound on plans was reached."""

    conflict: tuple[Requirement, ...]
    relaxations: tuple[Relaxation, ...]
    substrate: str
    plans: int
    complete: bool


class OutOfPlans(Exception):
    """The bound on plans is reached."""


def trouble(engine: Engine, plan: Plan, most_plans: int = MOST_PLANS) -> Trouble:
    """Conflict and smallest relaxations of a plan that has no chain."""
    return _Search(engine, plan.substrate, most_plans).run(plan.job)


class _Search:
    def __init__(self, engine: Engine, substrate: Entry, most_plans: int) -> None:
        self.engine, self.substrate, self.most = engine, substrate, most_plans
        self.plans = 0
        self.known: dict[str, bool] = {}

    def feasible(self, job: Job) -> bool:
        key = job.model_dump_json()
        if key not in self.known:
            if self.plans >= self.most:
                raise OutOfPlans
            self.plans += 1
            self.known[key] = self.engine.feasible(job, self.substrate)
        return self.known[key]

    def run(self, job: Job) -> Trouble:
        asked = requirements(job)
        conflict: tuple[Requirement, ...] = ()
        found: list[Relaxation] = []
        complete = True
        try:
            conflict = self.conflict(job, asked)
            for size in range(1, MOST_FIELDS + 1):
                sets = list(self.corrections(job, asked, (), size))
                found = [r for r in (self.relaxation(job, chosen) for chosen in sets) if r is not None]
                if found:
                    break
        except OutOfPlans:
            complete = False
        found.sort(key=lambda r: (len(r.changes), r.asks, [c[0] for c in r.changes]))
        return Trouble(conflict, tuple(found), self.substrate.id, self.plans, complete)

    def conflict(self, job: Job, asked: Sequence[Requirement]) -> tuple[Requirement, ...]:
        """A minimal set of `asked` that can't all be met: what the clash does not need is let go."""
        kept: list[Requirement] = []
        for requirement in asked:
            without = requirement.let_go(job)
            if self.feasible(without):
                kept.append(requirement)
            else:
                job = without
        return tuple(kept)

    def corrections(
        self, job: Job, asked: Sequence[Requirement], chosen: tuple[Requirement, ...], size: int
    ) -> Iterator[tuple[Requirement, ...]]:
        """Every set of `size` requirements that, let go together, leave a chain; each once."""
        seen: set[frozenset[str]] = set()
        for found in self._corrections(job, asked, chosen, size):
            key = frozenset(r.field for r in found)
            if key not in seen:
                seen.add(key)
                yield found

    def _corrections(
        self, job: Job, asked: Sequence[Requirement], chosen: tuple[Requirement, ...], size: int
    ) -> Iterator[tuple[Requirement, ...]]:
        for requirement in self.conflict(job, asked):
            without = requirement.let_go(job)
            picked = (*chosen, requirement)
            if self.feasible(without):
                if len(picked) == size:
                    yield picked
            elif len(picked) < size:
                rest = [r for r in asked if r is not requirement]
                yield from self._corrections(without, rest, picked, size)

    def relaxation(self, job: Job, chosen: Sequence[Requirement]) -> Relaxation | None:
        """The changes of `chosen`, each number moved no further than it must, and the chain that they give."""
        values: dict[str, Any] = {r.field: r.easiest for r in chosen}

        def changed() -> Job:
            new = job
            for r in chosen:
                new = r.change(new, values[r.field])
            return new

        for r in chosen:
            if r.fact is not None:
                values[r.field] = self._least(r, values, changed)
        best = self.engine.plan(changed(), self.substrate, top=1).chains
        if not best:
            return None
        changes = tuple((r.field, r.asked, values[r.field]) for r in chosen)
        return Relaxation(changes, best[0], sum(_asks(*change) for change in changes))

    def _least(self, r: Requirement, values: dict[str, Any], changed: Callable[[], Job]) -> Any:
        """The value nearest to what was asked, among the limits that rules compare it with, that gives a chain."""
        scale = 60.0 if r.field == "limits.ready_within_h" else 1.0
        toward = _direction(r)
        limits = {value / scale for value in limits_of(self.engine.knowledge, r.fact or "")}
        beyond = {v + toward * 1.0 for v in limits} if scale == 1.0 else set()
        tried = [v for v in limits | beyond if (v - r.asked) * toward > 0 and _within(v, r.easiest, toward)]
        tried.sort(key=lambda v: abs(v - r.asked))
        low, high = 0, len(tried)
        while low < high:
            middle = (low + high) // 2
            values[r.field] = tried[middle]
            if self.feasible(changed()):
                high = middle
            else:
                low = middle + 1
        return tried[low] if low < len(tried) else r.easiest


def _direction(r: Requirement) -> float:
    """+1 where a greater value asks less, else -1."""
    if r.easiest is None:
        return -1.0 if r.field == "service.peak.temperature_c" else 1.0
    return 1.0 if r.easiest > r.asked else -1.0


def _within(value: float, easiest: Any, toward: float) -> bool:
    return easiest is None or (easiest - value) * toward >= 0


def _asks(field: str, old: Any, new: Any) -> float:
    """How much a change asks: the share by which a number moves; a whole requirement counts 1."""
    if isinstance(old, bool) or not isinstance(old, (int, float)) or not isinstance(new, (int, float)):
        return 1.0
    return abs(new - old) / max(abs(old), 100.0 if field.startswith("service.temperature") else abs(new), 1.0)


def limits_of(knowledge: Knowledge, fact: str) -> set[float]:
    """Every number in the knowledge that some rule compares `fact` with."""
    found: set[float] = set()
    for rule in knowledge.rules:
        for condition in (*rule.when, *rule.needs):
            for clause in condition.clauses if isinstance(condition, AnyOf) else (condition,):
                found |= _compared(knowledge, clause, fact)
    return found


def _compared(knowledge: Knowledge, clause: Clause, fact: str) -> set[float]:
    if not isinstance(clause.fact, str):
        return set()
    if clause.fact == fact:
        if isinstance(clause.value, (int, float)) and not isinstance(clause.value, bool):
            return {float(clause.value)}
        if isinstance(clause.value, Ref):
            return {v + clause.value.plus for v in _values(knowledge, clause.value.fact)}
    if isinstance(clause.value, Ref) and clause.value.fact == fact:
        return {v - clause.value.plus for v in _values(knowledge, clause.fact)}
    return set()


def _values(knowledge: Knowledge, path: str) -> set[float]:
    role, _, name = path.partition(".")
    if role == "cure":
        sources = [s for e in knowledge.by_kind.get("adhesive", ()) for s in e.facts["schedules"]]
    else:
        sources = [e.facts for e in knowledge.entries.values()]
    values = (facts.get(name) for facts in sources)
    return {float(v) for v in values if isinstance(v, (int, float)) and not isinstance(v, bool)}
