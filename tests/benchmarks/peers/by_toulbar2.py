"""toulbar2: a cost function network of slots and of the facets that rules read of them."""

from __future__ import annotations

import time
from collections.abc import Iterator
from itertools import pairwise, product

import numpy
import pytoulbar2  # type: ignore[import-untyped,import-not-found,unused-ignore]

from tests.benchmarks.generate import COATS, SLOTS, VALUES, Statement, Written
from tests.benchmarks.peers.reading import joining, may_be_empty, own_points


def least(written: Written, _: int, limit_s: float) -> list[int] | None:
    """The least cost alone: asking less of it than of the others."""
    top = 10_000_000
    shift = -sum(min(0, s.points or 0) for s in joining(written))
    network = pytoulbar2.CFN(float(top), resolution=0, verbose=-1)
    for slot in SLOTS:
        items = own_points(written, slot)
        low = min((points for points, _, _ in items), default=0)
        shift -= min(0, low)
        domain = [(0, None), *((points, facets) for points, facets, _ in items)]
        network.AddVariable(slot, [f"i{n}" for n in range(len(domain))])
        empty = top if not may_be_empty(written, slot) else -min(0, low)
        network.AddFunction([slot], [float(empty), *(float(p - min(0, low)) for p, _ in domain[1:])])
        facets_used = sorted({t.facet for s in joining(written) for t in s.terms if t.slot == slot})
        for facet in facets_used:
            network.AddVariable(f"{slot}_{facet}", [f"v{v}" for v in range(VALUES + 1)])
            values = [VALUES if facets is None else facets[facet] for _, facets in domain]
            table = numpy.full((len(domain), VALUES + 1), float(top))
            table[numpy.arange(len(domain)), values] = 0.0
            network.AddFunction([slot, f"{slot}_{facet}"], table.ravel())
        if slot in COATS:
            network.AddVariable(f"{slot}_is", ["empty", "filled"])
            table = numpy.full((len(domain), 2), float(top))
            table[0, 0] = 0.0
            table[1:, 1] = 0.0
            network.AddFunction([slot, f"{slot}_is"], table.ravel())
    for lower, upper in pairwise(COATS):
        network.AddFunction([f"{lower}_is", f"{upper}_is"], [0.0, float(top), 0.0, 0.0])
    for statement in joining(written):
        scope = list(dict.fromkeys(f"{t.slot}_{t.facet}" for t in statement.terms))
        network.AddFunction(scope, list(_table(statement, scope, top)))
    end = time.monotonic() + limit_s
    solved = network.Solve(timeLimit=max(1, int(limit_s)))
    # When its time is up it gives the best so far, or nothing.
    if time.monotonic() > end - 0.5:
        return None
    return [] if solved is None else [round(solved[1]) - shift]


def _table(statement: Statement, scope: list[str], top: int) -> Iterator[float]:
    """The cost of each combination of facet values, the points that may be taken off put on beforehand."""
    points = top if statement.points is None else statement.points
    for values in product(range(VALUES + 1), repeat=len(scope)):
        found = dict(zip(scope, values, strict=True))
        holds = all((found[f"{t.slot}_{t.facet}"] in t.values) != t.absent for t in statement.terms)
        yield float((points if holds else 0) + max(0, -points))
