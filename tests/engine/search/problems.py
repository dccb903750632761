"""Small search problems at random, and the answers that trying every chain gives."""

from __future__ import annotations

from itertools import product

from hypothesis import strategies as st

from kb.engine.search.problem import Constraint, Label, Levels, SearchProblem


def levels_of(options: list[tuple[int, int]]) -> Levels:
    """Options given as (cost, milliseconds) by position, as levels."""
    found: dict[tuple[int, int], int] = {}
    for position, option in enumerate(options):
        found[option] = found.get(option, 0) | 1 << position
    return found


@st.composite
def problems(draw: st.DrawFn, timed: bool = False, full: bool = False) -> SearchProblem:
    """One to five slots of up to four options, with few different costs so that ties are common.

    `full`: at least three slots of at least two options, and only rules that join slots.
    """
    slots = draw(st.integers(3 if full else 1, 5))
    option = st.tuples(st.integers(0, 3), st.integers(0, 3))
    options = tuple(levels_of(draw(st.lists(option, min_size=2 * full, max_size=4))) for _ in range(slots))
    mask = st.integers(1, 15)
    rule = st.builds(
        Constraint,
        sets=st.dictionaries(st.integers(0, slots - 1), mask, min_size=1 + full, max_size=3),
        cost=st.integers(-2, 2),
        ms=st.integers(0, 2),
        forbids=st.booleans(),
    )
    limit = draw(st.integers(0, 8)) if timed else None
    return SearchProblem(options, tuple(draw(st.lists(rule, max_size=8))), limit)


def every_chain(problem: SearchProblem) -> list[Label]:
    """Every allowed chain in order, time limit and all."""
    choices = [
        [(cost, bit, ms) for (cost, ms), members in levels.items() for bit in range(4) if members >> bit & 1]
        for levels in problem.options
    ]
    found = []
    for chain in product(*choices):
        held = [r for r in problem.constraints if all(mask >> chain[slot][1] & 1 for slot, mask in r.sets.items())]
        if any(rule.forbids for rule in held):
            continue
        cost = sum(c for c, _, _ in chain) + sum(rule.cost for rule in held)
        ms = sum(t for _, _, t in chain) + sum(rule.ms for rule in held)
        if problem.limit_ms is None or ms <= problem.limit_ms:
            found.append(Label(cost, tuple(position for _, position, _ in chain), ms))
    return sorted(found)
