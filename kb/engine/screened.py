"""A job made ready for the search: what each slot may still hold, what that costs, and what joins the slots."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import NamedTuple

from kb.engine.domain import Domain
from kb.engine.grounding import Conjunction
from kb.engine.rank import Ranking, milliseconds
from kb.engine.search.problem import Constraint, Levels, SearchProblem
from kb.engine.settle import Costs, RuleConstraint, SlotCost
from kb.engine.slots import NAMES
from kb.knowledge import Knowledge
from kb.rules.clauses import Scene
from kb.rules.findings import Finding
from kb.rules.job_facts import NO_LIMIT_MIN
from kb.rules.rule import Rule


class Grounded(NamedTuple):
    """What one rule comes to in one job: where it holds, and what it forbids or costs there."""

    rule: Rule
    conjunctions: Sequence[Conjunction]
    constraints: Sequence[RuleConstraint]


@dataclass(frozen=True)
class Screened:
    """What the rules leave of a job, with every rule that had a say in it."""

    scene: Scene
    domains: Sequence[Domain]
    ranking: Ranking
    knowledge: Knowledge
    grounded: tuple[Grounded, ...]
    #: What takes time: the steps of the procedure that this job's chains may have.
    steps: tuple[Grounded, ...]
    #: For each slot: the options that no rule alone shuts out, and what shuts out which.
    remaining: tuple[int, ...]
    closed_by: tuple[tuple[tuple[Rule, int], ...], ...]
    #: What is left to the search of what rules forbid: over two slots or more.
    forbidding: tuple[RuleConstraint, ...]
    #: What the rest of the rules costs.
    costs: Costs
    #: What rules said of picks in the chains that were judged so far: chains hold mostly the same.
    said: dict[tuple[object, ...], Finding | None] = field(default_factory=dict, compare=False, repr=False)

    @property
    def rules(self) -> tuple[Rule, ...]:
        """The rules that speak of some chain for this job, or of chains as a whole."""
        return tuple(grounded.rule for grounded in self.grounded)

    @property
    def of_chains(self) -> tuple[Rule, ...]:
        """The rules that speak of a chain as a whole."""
        return tuple(rule for rule, conjunctions, _ in self.grounded if not conjunctions)

    @property
    def constraints(self) -> tuple[RuleConstraint, ...]:
        """What is left to the search: what rules forbid, and cost, over two slots or more."""
        return (*self.forbidding, *self.costs.settled.joining)

    @property
    def constant(self) -> tuple[int, float]:
        """The points and minutes that every chain has."""
        return self.costs.settled.constant

    @cached_property
    def problem(self) -> SearchProblem:
        """The search problem that is left, in the positions of each slot's domain."""
        service = self.scene["service"] or {}
        options = []
        for slot, domain in enumerate(self.domains):
            levels: Levels = self.ranking.levels(NAMES[slot], domain, self.remaining[slot], service)
            options.append(with_costs(levels, self.costs.settled.slot_costs[slot]))
        return SearchProblem(tuple(options), for_search(self.constraints), self._limit_ms)

    @property
    def unweighted_problem(self) -> SearchProblem:
        """The same where all that counts is whether a chain exists: without points."""
        limit = self._limit_ms
        if limit is None:
            return free_of_cost(self.remaining, self.forbidding)
        times = (self.ranking.times(NAMES[slot], domain) for slot, domain in enumerate(self.domains))
        left = [
            {level: here for level, members in levels.items() if (here := members & remaining)}
            for levels, remaining in zip(times, self.remaining, strict=True)
        ]
        taken = self.costs.times
        return time_alone(left, taken.slot_costs, (*self.forbidding, *taken.joining), limit)

    @property
    def timed(self) -> bool:
        """Whether there is a limit of time to be kept."""
        return self._limit_ms is not None

    @property
    def _limit_ms(self) -> int | None:
        """The time that a chain may take beside what every chain takes."""
        limit = limit_ms(self.scene)
        return None if limit is None else limit - milliseconds(self.costs.times.constant[1])


def limit_ms(scene: Scene) -> int | None:
    """Give the time in which a job wants its chain ready; None without a limit."""
    limit = (scene["limits"] or {}).get("ready_within_min", NO_LIMIT_MIN)
    return None if limit >= NO_LIMIT_MIN else milliseconds(limit)


def for_search(constraints: Iterable[RuleConstraint]) -> tuple[Constraint, ...]:
    """Lay out what the search reckons with; what costs nothing joins slots all the same, and would only widen it."""
    every = (Constraint(c.sets, c.cost, milliseconds(c.minutes), c.forbids) for c in constraints)
    return tuple(constraint for constraint in every if constraint.counts)


def free_of_cost(remaining: Iterable[int], constraints: Iterable[RuleConstraint]) -> SearchProblem:
    """Lay out which chains there are of the options that remain, whatever they cost."""
    options = tuple({(0, 0): mask} if mask else {} for mask in remaining)
    return SearchProblem(options, tuple(Constraint(c.sets, forbids=True) for c in constraints if c.forbids))


def time_alone(
    times: Iterable[Levels],
    slot_costs: Iterable[Iterable[SlotCost]],
    constraints: Iterable[RuleConstraint],
    limit_ms: int,
) -> SearchProblem:
    """Lay out which chains there are of options that take these `times`, and how long each is, whatever they cost."""
    options = (
        with_costs(levels, (SlotCost(mask, 0, minutes) for mask, _, minutes in costs if minutes))
        for levels, costs in zip(times, slot_costs, strict=True)
    )
    return SearchProblem(tuple(options), for_search(c._replace(cost=0) for c in constraints), limit_ms)


def with_costs(levels: Levels, costs: Iterable[SlotCost]) -> Levels:
    """Add to the options of a slot what rules add to some of them."""
    by_mask: dict[int, tuple[int, int]] = {}
    for mask, points, minutes in costs:
        before = by_mask.get(mask, (0, 0))
        by_mask[mask] = (before[0] + points, before[1] + milliseconds(minutes))
    for mask, (points, ms) in by_mask.items():
        levels = _dearer(levels, mask, points, ms)
    return levels


def _dearer(levels: Levels, mask: int, points: int, ms: int) -> Levels:
    """Add `points` and `ms` to the options in `mask`."""
    found: dict[tuple[int, int], int] = {}
    for level, members in levels.items():
        here = members & mask
        if here != members:
            found[level] = found.get(level, 0) | members ^ here
        if here:
            dearer = level[0] + points, level[1] + ms
            found[dearer] = found.get(dearer, 0) | here
    return found
