"""What stands against a job, let go for some items: what has no chain even then has none by any fact of theirs."""

from __future__ import annotations

from collections.abc import Container, Iterable, Sequence
from math import inf

from kb.engine.grounding import Sets
from kb.engine.rank import milliseconds
from kb.engine.screen import Screener
from kb.engine.screened import Grounded, free_of_cost, limit_ms, time_alone
from kb.engine.search.masks import merged
from kb.engine.search.problem import SearchProblem
from kb.engine.search.reach import feasible, soonest
from kb.engine.settle import Propagation, RuleConstraint
from kb.engine.slots import NAMES
from kb.rules.clauses import Scene

#: The limit of time is stretched by so much, so that no rounding calls impossible what is just possible.
_SLACK_MS = 1000


class Relaxed:
    """What forbids a chain in one job, or makes it late, laid out once to be let go for one item after the other."""

    def __init__(self, screener: Screener, scene: Scene) -> None:
        self._screener, self._domains = screener, screener.domains
        self._limit_ms = limit_ms(scene)
        self._bound = self._binding(screener.constraints_in(scene))
        self._by_options: dict[tuple[int, int], list[RuleConstraint]] = {}
        timed = self._domains if self._limit_ms is not None else ()
        self._times = [screener.ranking.times(NAMES[slot], domain) for slot, domain in enumerate(timed)]

    def possible(self, items: Container[str]) -> bool:
        """Tell whether the job has a chain if no rule forbids, or takes time for, anything with one of these items."""
        places = {domain.kind: domain.places(items) for domain in self._domains}
        freed = {slot: places[domain.kind] for slot, domain in enumerate(self._domains)}
        bound = [each for constraint in self._bound if (each := _without(constraint, freed)) is not None]
        return self._feasible(self._screener.unsettled(), bound, freed)

    def soonest_with(self, slots: Iterable[int], options: int) -> float:
        """Give by how many milliseconds the fastest chain with one of these options is late, whatever forbids it."""
        freed = dict.fromkeys(slots, options)
        found = inf
        for slot in freed:
            bound = (_without(c, freed) if c.forbids else c for c in self._with(slot, options))
            settled = self._screener.unsettled()
            settled.remaining[slot] &= options
            joining = settled.run([each for each in bound if each is not None])
            if all(settled.remaining):
                problem = self._problem(settled, joining, {})
                least = soonest(problem)
                if least is not None and problem.limit_ms is not None:
                    found = min(found, least - problem.limit_ms)
        return found

    def possible_with(
        self,
        slots: Iterable[int],
        options: int,
        said: Sequence[tuple[Grounded | None, Grounded | None]],
        own: Sequence[RuleConstraint],
    ) -> bool:
        """Tell whether the job may have a chain with one of these options in one of these slots.

        Rules say there what stands second in `said`, and options take as much more time as stands in `own`.
        """
        otherwise = {each.rule.id for pair in said for each in pair if each is not None}
        new = self._binding([c for _, now in said if now is not None for c in now.constraints])
        for slot in slots:
            settled = self._screener.unsettled()
            settled.remaining[slot] &= options
            old = (c for c in self._with(slot, options) if c.rule is None or c.rule.id not in otherwise)
            if self._feasible(settled, [*old, *new, *own], {}):
                return True
        return False

    def _binding(self, constraints: Iterable[RuleConstraint]) -> list[RuleConstraint]:
        return [c for c in constraints if c.forbids or (self._limit_ms is not None and c.minutes)]

    def _with(self, slot: int, options: int) -> list[RuleConstraint]:
        """Give what may bind a chain with one of these options in the slot."""
        if (slot, options) not in self._by_options:
            self._by_options[slot, options] = [c for c in self._bound if c.sets.get(slot, options) & options]
        return self._by_options[slot, options]

    def _feasible(self, settled: Propagation, bound: Sequence[RuleConstraint], freed: Sets) -> bool:
        joining = settled.run(bound)
        return all(settled.remaining) and feasible(self._problem(settled, joining, freed))

    def _problem(self, settled: Propagation, joining: Sequence[RuleConstraint], freed: Sets) -> SearchProblem:
        if self._limit_ms is None:
            return free_of_cost(settled.remaining, joining)
        times = []
        for slot, remaining in enumerate(settled.remaining):
            free = freed.get(slot, 0)
            own = ((level, members & remaining & ~free) for level, members in self._times[slot].items())
            times.append(merged([*own, ((0, 0), free & remaining)]))
        left_ms = self._limit_ms - milliseconds(settled.constant[1]) + _SLACK_MS
        return time_alone(times, settled.slot_costs, joining, left_ms)


def _without(constraint: RuleConstraint, freed: Sets) -> RuleConstraint | None:
    """Give a constraint as it holds where none of these options stand; None where it is about them alone."""
    sets = {slot: mask & ~freed.get(slot, 0) for slot, mask in constraint.sets.items()}
    return constraint._replace(sets=sets, cost=0) if all(sets.values()) else None
