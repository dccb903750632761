"""Which options a chain can use, and how fast, against trying every chain."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from kb.engine.search.problem import SearchProblem
from kb.engine.search.reach import fastest, feasible, soonest
from tests.engine.search.problems import every_chain, problems

MANY = settings(max_examples=400)


def by_position(found: list[dict[int, int]]) -> list[dict[int, int]]:
    """`fastest`, position by position: position -> milliseconds."""
    return [
        {position: ms for ms, mask in slot.items() for position in range(4) if mask >> position & 1} for slot in found
    ]


def tried(problem: SearchProblem) -> list[dict[int, int]]:
    found: list[dict[int, int]] = [{} for _ in problem.options]
    for label in every_chain(problem._replace(limit_ms=None)):
        for slot, position in enumerate(label.picks):
            ms = label.ms if problem.limit_ms is not None else 0
            found[slot][position] = min(ms, found[slot].get(position, ms))
    return found


@MANY
@given(problems(), st.booleans())
def test_the_fastest_chain_of_each_option(problem: SearchProblem, timed: bool) -> None:
    problem = problem._replace(limit_ms=5 if timed else None)
    assert by_position(fastest(problem)) == tried(problem)


@MANY
@given(problems(timed=True))
def test_whether_a_chain_exists(problem: SearchProblem) -> None:
    assert feasible(problem) == bool(every_chain(problem))


@MANY
@given(problems(timed=True))
def test_the_soonest_chain_that_keeps_the_limit(problem: SearchProblem) -> None:
    times = [label.ms for label in every_chain(problem)]
    assert soonest(problem) == (0 if problem.limit_ms is None and times else min(times, default=None))


@MANY
@given(problems(timed=True), st.integers(1, 12))
def test_too_wide_a_problem_refuses_nothing_that_can_be_used(problem: SearchProblem, most: int) -> None:
    claimed = by_position(fastest(problem, most_transitions=most))
    for slot, true in enumerate(tried(problem)):
        for position, ms in true.items():
            assert claimed[slot][position] <= ms
    assert feasible(problem, most_transitions=most) or not every_chain(problem)
