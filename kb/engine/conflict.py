"""When there is no chain: which of the job's own requirements can't all be met, and what would have to give.

A conflict is minimal: let any one of its requirements go, and there is a chain. Relaxations are the smallest sets
of requirements which, let go, leave a chain: none holds another. They are found as sets that break every conflict
met so far, so most sets need not be tried. A number is moved to the very limit at which a chain appears
(kb.engine.breakpoints), and each relaxation is planned again.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import combinations, pairwise, permutations
from typing import Final, NamedTuple

from kb.engine.breakpoints import inside
from kb.engine.chain import Chain, cautions_of
from kb.engine.goal import Goal
from kb.engine.plan import Engine, Plan
from kb.engine.rank import Ranking
from kb.engine.requirements import Requirement, differences, requirements
from kb.job import Job
from kb.knowledge import Entry
from kb.rules.clauses import Value
from kb.rules.findings import Finding

#: No more jobs than this are tried, a few seconds; what was found until then is given, and said to be incomplete.
MOST_PLANS = 1000
MOST_CHANGES = 3
#: So many sets of rules that left no chain are kept: most jobs that are tried fail for the same few reasons.
MOST_CORES = 8
READY: Final = "limits.ready_within_h"
#: A caution of this level or a worse one is told with the way out that leads to it.
DOUBTED: Final = "serious-doubt"


class Change(NamedTuple):
    """A field of the job, moved. `beyond`: the limit that `new` lies just past, where the limit itself won't do."""

    field: str
    old: Value
    new: Value
    beyond: float | None = None


@dataclass(frozen=True)
class Relaxation:
    """Changes to the job that give a chain, the job as changed, the best chain that it has, and what to doubt of it."""

    changes: tuple[Change, ...]
    job: Job
    gives: Chain
    asks: float
    doubt: Finding | None


@dataclass(frozen=True)
class Trouble:
    """Why there is no chain, and what would give one.

    `plans` jobs were tried for it. `complete` is False where that is the most that was allowed, or where the plan's
    own search was stopped, and a chain may yet exist: what is here is true, but there may be more. `tried` are the
    fields of the job that were let go, alone and together; of the others nothing is said.
    """

    conflict: tuple[Requirement, ...]
    relaxations: tuple[Relaxation, ...]
    substrate: Entry
    plans: int
    complete: bool
    tried: tuple[str, ...] = ()


class OutOfPlans(Exception):
    """The bound on plans is reached."""


def trouble(engine: Engine, plan: Plan, most_plans: int = MOST_PLANS) -> Trouble:
    """Find conflict and smallest relaxations of a plan that has no chain; none where that isn't certain."""
    if plan.bound is not None:
        return Trouble((), (), plan.substrate, 0, False)
    return trouble_of(Goal(engine, plan.substrate), plan.job, most_plans)


def trouble_of(goal: Goal, job: Job, most_plans: int = MOST_PLANS) -> Trouble:
    """Tell why `job` does not reach `goal`, and what would: at least one change, at most MOST_CHANGES."""
    return _Search(goal, job, most_plans).run()


class _Search:
    def __init__(self, goal: Goal, job: Job, most_plans: int) -> None:
        self.goal, self.job, self.most = goal, job, most_plans
        self.plans, self.complete = 0, True
        self._known: dict[str, frozenset[str] | None] = {}
        self._cores: list[frozenset[str]] = []

    def possible(self, job: Job) -> bool:
        """Tell whether `job` reaches the goal."""
        return self._against(job) is None

    def _against(self, job: Job) -> frozenset[str] | None:
        """Name rules that leave `job` no chain, none where only the search tells; None: it reaches the goal.

        Each job is tried once.
        """
        key = job.model_dump_json()
        if key not in self._known:
            barring = self._barring(job)
            self._known[key] = self._tried(job) if barring is None else barring
        return self._known[key]

    def _barring(self, job: Job) -> frozenset[str] | None:
        """Give rules that left no chain before and leave none here; the last that did are asked first."""
        for number, rules in enumerate(self._cores):
            if self.goal.barred(job, rules):
                self._cores.insert(0, self._cores.pop(number))
                return rules
        return None

    def _tried(self, job: Job) -> frozenset[str] | None:
        self._count()
        if self.goal.possible(job):
            return None
        rules = self.goal.core(job)
        if rules:
            self._cores = [rules, *self._cores][:MOST_CORES]
        return rules

    def _count(self) -> None:
        if self.plans >= self.most:
            raise OutOfPlans
        self.plans += 1

    def run(self) -> Trouble:
        asked = requirements(self.job, self.goal.substrate.facts)
        conflict: tuple[Requirement, ...] = ()
        relaxations: list[Relaxation] = []
        try:
            conflict = self.conflict(self.job, asked)
            for chosen in self.corrections(asked, conflict):
                relaxation = self.relaxation(chosen)
                if relaxation is not None:
                    relaxations.append(relaxation)
        except OutOfPlans:
            self.complete = False
        relaxations.sort(key=lambda r: (len(r.changes), r.asks, [change.field for change in r.changes]))
        tried = tuple(dict.fromkeys(requirement.field for requirement in asked))
        return Trouble(conflict, tuple(relaxations), self.goal.substrate, self.plans, self.complete, tried)

    def conflict(self, job: Job, asked: Sequence[Requirement]) -> tuple[Requirement, ...]:
        """Find a minimal set of `asked` that can't all be met, by letting go what the clash doesn't need.

        More than one round is taken only where letting go of one makes another dispensable.
        """
        kept = list(asked)
        size = len(kept) + 1
        while len(kept) < size:
            size = len(kept)
            for requirement in tuple(kept):
                without = requirement.let_go(job)
                if not self.possible(without):
                    kept.remove(requirement)
                    job = without
        return tuple(kept)

    def corrections(
        self, asked: Sequence[Requirement], conflict: Sequence[Requirement]
    ) -> list[tuple[Requirement, ...]]:
        """Find the smallest sets of requirements that leave a chain if let go: fewest first, none in another."""
        conflicts = [set(conflict)]
        corrections: list[tuple[Requirement, ...]] = []
        for size in range(1, MOST_CHANGES + 1):
            for chosen in combinations(asked, size):
                here = set(chosen)
                if any(here.issuperset(smaller) for smaller in corrections):
                    continue
                if not all(here & clash for clash in conflicts):
                    continue
                job = _without(self.job, chosen)
                if self.possible(job):
                    corrections.append(chosen)
                else:
                    conflicts.append(set(self.conflict(job, [r for r in asked if r not in here])))
        return corrections

    def relaxation(self, chosen: Sequence[Requirement]) -> Relaxation | None:
        """Work out the changes of `chosen`, each number moved no further than it must, and the chain that they give.

        Of the orders in which several numbers can be moved back, the one counts that asks least in the end.
        """
        movable = [r for r in chosen if r.far is not None]
        ways = [self._moved(chosen, order) for order in permutations(movable)]
        changes, job = min(ways, key=lambda way: sum(_asks(change, chosen) for change in way[0]))
        self._count()
        chain, bound = self.goal.best(job)
        self.complete = self.complete and bound is None
        if chain is None:
            return None
        return Relaxation(changes, job, chain, sum(_asks(c, chosen) for c in changes), self._doubt(chain))

    def _doubt(self, chain: Chain) -> Finding | None:
        """Find the gravest caution of a chain, where it likely costs some of what was asked for."""
        ranking = Ranking(self.goal.engine.knowledge.tables["ranking"])
        return next(iter(cautions_of(chain, ranking, DOUBTED)), None)

    def _moved(self, chosen: Sequence[Requirement], order: Sequence[Requirement]) -> tuple[tuple[Change, ...], Job]:
        values = {r: r.easiest for r in chosen}
        beyond: dict[str, float | None] = {}

        def changed(moved: Requirement | None = None, value: Value = None) -> Job:
            job = self.job
            for r in chosen:
                job = r.change(job, value if r is moved else values[r])
            return job

        # A warmer part may be baked warmer: time that was settled before a heat may be more than it takes in the end.
        for r in (*order, *(r for r in order[:-1] if r.field == READY)):
            values[r], beyond[r.field] = self._least(r, partial(changed, r))
        job = changed()
        return tuple(Change(*d, beyond.get(d[0])) for d in differences(self.job, job)), job

    def _least(self, r: Requirement, changed: Callable[[Value], Job]) -> tuple[Value, float | None]:
        """Find the value nearest to what was asked that gives a chain; with the limit that it had to pass, if any."""
        if r.field == READY:
            assert isinstance(r.asked, float)
            minutes = self.goal.fastest_min(changed(None))
            return (None if minutes is None else max(r.asked, minutes / 60)), None
        assert r.far is not None
        limits = self.goal.engine.breakpoints(changed, self.goal.substrate, r.asked, r.far)
        against: frozenset[str] = frozenset()
        for (before, met), (limit, ahead) in pairwise([(r.asked, frozenset[str]()), *limits.items()]):
            # Rules that leave no chain leave none until one of them says something else: at a limit, or just past it.
            for value, beyond, turned in ((inside(before, limit), before, met), (limit, None, ahead)):
                if against and against.isdisjoint(turned):
                    continue
                here = self._against(changed(value))
                if here is None:
                    return value, beyond
                against = here
        return r.easiest, None


def _without(job: Job, chosen: Sequence[Requirement]) -> Job:
    for requirement in chosen:
        job = requirement.let_go(job)
    return job


def _asks(change: Change, chosen: Sequence[Requirement]) -> float:
    """Weigh a change, 0 to 1: of a number, the share of the way that it can be moved; 1 for all else."""
    if any(isinstance(v, bool) or not isinstance(v, (int, float)) for v in (change.old, change.new)):
        return 1.0
    moved = abs(change.new - change.old)
    far = next((r.far for r in chosen if r.field == change.field), None)
    if far is None or math.isinf(far):
        return float(moved / max(abs(change.new), abs(change.old)))
    return float(min(1.0, moved / abs(far - change.old)))
