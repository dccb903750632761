"""What is wanted of a job: that it has any chain, or one that uses a certain item."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

from kb.engine.chain import Chain, chain_of
from kb.engine.core import core
from kb.engine.grounding import Sets
from kb.engine.plan import Engine
from kb.engine.rank import MS_PER_MINUTE
from kb.engine.screened import Screened
from kb.engine.search.k_best import k_best
from kb.engine.search.problem import SearchProblem
from kb.engine.search.reach import feasible, soonest
from kb.job import Job
from kb.knowledge import Entry
from kb.rules.roles import CHAIN_KINDS


class Reached(NamedTuple):
    """The best chain that does what is wanted. Any that is missing costs `bound` or more; None: it is proven the best.

    No chain and no bound: there certainly is none.
    """

    chain: Chain | None
    bound: int | None


@dataclass(frozen=True)
class Goal:
    """A chain on `substrate`; with `item`, one in which that item stands in some slot."""

    engine: Engine
    substrate: Entry
    item: Entry | None = None

    def possible(self, job: Job) -> bool:
        """Tell whether any chain does."""
        return any(feasible(problem) for problem in self._problems(self._screened(job).unweighted_problem))

    def core(self, job: Job) -> frozenset[str]:
        """Name the rules that leave an impossible job nothing for some slot; none where that takes the search."""
        return core(self._screened(job), self._wanted)

    def barred(self, job: Job, rules: frozenset[str]) -> bool:
        """Tell whether these rules alone leave the job nothing; sooner told than whether it is possible."""
        return self.engine.barred(job, self.substrate, rules, self._wanted)

    @cached_property
    def _wanted(self) -> Sets:
        """Mark the options that are the item, in the slots where it may stand; none where any chain will do."""
        return {slot: here for slot in range(len(self.engine.domains)) if (here := self._places(slot))}

    def best(self, job: Job) -> Reached:
        """Find the first in rank of the chains that do."""
        screened = self._screened(job)
        return self._first(screened, self._problems(screened.problem))

    def best_without(self, job: Job) -> Reached:
        """Find the first in rank of the chains in which the item stands nowhere."""
        screened = self._screened(job)
        without = screened.problem.only([~self._places(slot) for slot in range(len(screened.domains))])
        return self._first(screened, [without])

    def fastest_min(self, job: Job) -> float | None:
        """Give the minutes until the fastest chain that does is ready, whatever the job allows; None: there is none."""
        screened = self._screened(job)
        unlimited = screened.problem._replace(limit_ms=Engine.longest_ms)
        times = [ms for problem in self._problems(unlimited) if (ms := soonest(problem)) is not None]
        return min(times) / MS_PER_MINUTE + screened.constant[1] if times else None

    def _screened(self, job: Job) -> Screened:
        return self.engine.screened(job, self.substrate)

    def _first(self, screened: Screened, problems: Iterable[SearchProblem]) -> Reached:
        """Take the first in rank over several problems; what one of them proves may leave another open."""
        best = [k_best(problem, 1, self.engine.most_transitions) for problem in problems]
        label = min((label for each in best for label in each.labels), default=None)
        bound = min((each.bound for each in best if each.bound is not None), default=None)
        if bound is not None:
            bound = None if label is not None and label.cost < bound else bound + screened.constant[0]
        return Reached(None if label is None else chain_of(screened, 1, label), bound)

    def _problems(self, problem: SearchProblem) -> Iterator[SearchProblem]:
        """Give the search problem; with an item, one for each slot that it can stand in."""
        if self.item is None:
            yield problem
            return
        for slot, levels in enumerate(problem.options):
            here = self._places(slot)
            if any(members & here for members in levels.values()):
                yield problem.only([here if other == slot else -1 for other in range(len(problem.options))])

    def _places(self, slot: int) -> int:
        """Mark the options of a slot that are the item."""
        domain = self.engine.domains[slot]
        return 0 if self.item is None or domain.kind != self.item.kind else domain.places({self.item.id})


def stands_in_chains(entry: Entry) -> bool:
    """Tell whether an item of this kind can stand in a chain at all."""
    return entry.kind in CHAIN_KINDS
