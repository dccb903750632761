"""What is wanted of a job: that it has any chain, or one that uses a certain item."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from kb.engine.chain import Chain, chain_of
from kb.engine.plan import Engine
from kb.engine.rank import MS_PER_MINUTE
from kb.engine.screen import Screened
from kb.engine.search.k_best import k_best
from kb.engine.search.layers import Problem
from kb.engine.search.reach import fastest, feasible
from kb.job import NO_LIMIT_MIN, Job
from kb.knowledge import Entry
from kb.rules.roles import CHAIN_KINDS

UNLIMITED_MS = int(NO_LIMIT_MIN * MS_PER_MINUTE)


@dataclass(frozen=True)
class Goal:
    """A chain on `substrate`; with `item`, one in which that item stands in some slot."""

    engine: Engine
    substrate: Entry
    item: Entry | None = None

    def possible(self, job: Job) -> bool:
        """Whether any chain does."""
        return any(feasible(problem) for problem in self._problems(self._screened(job).bare_problem))

    def best(self, job: Job) -> Chain | None:
        """The first in rank of the chains that do."""
        screened = self._screened(job)
        found = [label for problem in self._problems(screened.problem) for label in k_best(problem, 1).labels]
        return chain_of(screened, 1, min(found)) if found else None

    def best_without(self, job: Job) -> Chain | None:
        """The first in rank of the chains in which the item stands nowhere."""
        screened = self._screened(job)
        problem = screened.problem.only([~self._places(slot) for slot in range(len(screened.domains))])
        found = k_best(problem, 1).labels
        return chain_of(screened, 1, found[0]) if found else None

    def fastest_min(self, job: Job) -> float | None:
        """Minutes until the fastest chain that does is ready, whatever the job allows; None where there is none."""
        screened = self._screened(job)
        unlimited = screened.problem._replace(limit_ms=UNLIMITED_MS)
        times = [ms for problem in self._problems(unlimited) for ms in fastest(problem)[0]]
        return min(times) / MS_PER_MINUTE + screened.everywhere[1] if times else None

    def _screened(self, job: Job) -> Screened:
        return self.engine.screened(job, self.substrate)

    def _problems(self, problem: Problem) -> Iterator[Problem]:
        """The search problem; with an item, one for each slot that it can stand in."""
        if self.item is None:
            yield problem
            return
        for slot, levels in enumerate(problem.options):
            here = self._places(slot)
            if any(members & here for members in levels.values()):
                yield problem.only([here if other == slot else -1 for other in range(len(problem.options))])

    def _places(self, slot: int) -> int:
        """The options of a slot that are the item."""
        domain = self.engine.domains[slot]
        return 0 if self.item is None or domain.kind != self.item.kind else domain.places({self.item.id})


def stands_in_chains(entry: Entry) -> bool:
    """Whether an item of this kind can stand in a chain at all."""
    return entry.kind in CHAIN_KINDS
