"""python-constraint: every solution, one by one; it has no optimisation."""

from __future__ import annotations

import contextlib
import heapq
from collections.abc import Callable
from itertools import pairwise

import constraint  # type: ignore[import-untyped,import-not-found,unused-ignore]

from tests.benchmarks.generate import COATS, Statement, Written
from tests.benchmarks.peers.limited import limited
from tests.benchmarks.peers.reading import Pick, costs_of, domains_of, holds, joining


def least(written: Written, k: int, limit_s: float) -> list[int] | None:
    problem = constraint.Problem()
    for slot, domain in domains_of(written).items():
        if not domain:
            return []
        problem.addVariable(slot, domain)
    for lower, upper in pairwise(COATS):
        problem.addConstraint(lambda a, b: a.facets is not None or b.facets is None, [lower, upper])
    for statement in joining(written):
        if statement.points is None:
            slots = list(dict.fromkeys(t.slot for t in statement.terms))
            problem.addConstraint(_allows(statement, slots), slots)
    with contextlib.suppress(TimeoutError), limited(limit_s):
        return heapq.nsmallest(k, (c for each in problem.getSolutionIter() for c in costs_of(written, each, k)))
    return None


def _allows(statement: Statement, slots: list[str]) -> Callable[..., bool]:
    def allowed(*picks: Pick) -> bool:
        return not holds(statement, dict(zip(slots, picks, strict=True)))

    return allowed
