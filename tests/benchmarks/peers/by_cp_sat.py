"""OR-Tools CP-SAT: solves, cuts the chain that it found, and solves again."""

from __future__ import annotations

import time
from itertools import pairwise
from math import prod

from ortools.sat.python import cp_model

from tests.benchmarks.generate import COATS, SLOTS, Written
from tests.benchmarks.peers.reading import joining, may_be_empty, own_points

#: A fact that is read of a slot: that it is filled with an item that has this value of a facet.
Fact = tuple[str, int, int]


def least(written: Written, k: int, limit_s: float, workers: int = 1) -> list[int] | None:
    end = time.monotonic() + limit_s
    found: list[int] = []
    cp, cost, counts = _cp_model(written)
    cp.minimize(cost)
    while len(found) < k:
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = workers
        solver.parameters.max_time_in_seconds = max(0.01, end - time.monotonic())
        status = solver.solve(cp)
        if status == cp_model.INFEASIBLE:
            break
        if status != cp_model.OPTIMAL:
            return None
        picked = [(literal, count) for literal, count in counts if solver.value(literal)]
        found += [round(solver.objective_value)] * min(k, prod(count for _, count in picked))
        cp.add_bool_or([literal.negated() for literal, _ in picked])
    return found[:k]


def _cp_model(written: Written) -> tuple[cp_model.CpModel, cp_model.LinearExprT, list[tuple[cp_model.IntVar, int]]]:
    cp = cp_model.CpModel()
    costs: list[cp_model.LinearExprT] = []
    picked: list[tuple[cp_model.IntVar, int]] = []
    empty: dict[str, cp_model.IntVar] = {}
    within: dict[Fact, list[cp_model.IntVar]] = {}
    for slot in SLOTS:
        here: list[tuple[cp_model.IntVar, int]] = []
        for points, facets, count in own_points(written, slot):
            literal = cp.new_bool_var("")
            here.append((literal, count))
            costs.append(points * literal)
            for facet, value in enumerate(facets):
                within.setdefault((slot, facet, value), []).append(literal)
        if may_be_empty(written, slot):
            empty[slot] = cp.new_bool_var("")
            here.append((empty[slot], 1))
        cp.add_exactly_one([literal for literal, _ in here])
        picked += here
    for lower, upper in pairwise(COATS):
        if lower in empty:
            cp.add_implication(empty[lower], empty[upper])
    known: dict[Fact, cp_model.IntVar] = {}

    def has(fact: Fact) -> cp_model.IntVar:
        if fact not in known:
            known[fact] = cp.new_bool_var("")
            cp.add(sum(within.get(fact, [])) == known[fact])
        return known[fact]

    for statement in joining(written):
        clause: list[cp_model.LiteralT] = []
        for term in statement.terms:
            facts = [has((term.slot, term.facet, value)) for value in sorted(term.values)]
            clause += facts if term.absent else [fact.negated() for fact in facts]
        if statement.points is None:
            cp.add_bool_or(clause)
        else:
            holds = cp.new_bool_var("")
            cp.add_bool_or([holds, *clause])
            for each in clause:
                cp.add_implication(holds, ~each)
            costs.append(statement.points * holds)
    return cp, sum(costs), picked
