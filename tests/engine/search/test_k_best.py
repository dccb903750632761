"""The search against trying every chain: costs, order, ties, time limit, and what a bound is worth."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.engine.search.k_best import MOST_TRANSITIONS, best_within, k_best
from kb.engine.search.problem import Constraint, Label, SearchProblem
from kb.engine.wide import beam
from tests.engine.search.problems import every_chain, levels_of, problems

MANY = settings(max_examples=400)


@MANY
@given(problems(), st.sampled_from((1, 2, 3, 10, 10_000)))
def test_the_best_chains_in_order(problem: SearchProblem, k: int) -> None:
    best = k_best(problem, k)
    assert best.bound is None
    assert best.labels == every_chain(problem)[:k]


@MANY
@given(problems(timed=True), st.sampled_from((1, 2, 3, 10, 10_000)))
def test_the_best_chains_within_the_time_limit(problem: SearchProblem, k: int) -> None:
    assert k_best(problem, k).labels == every_chain(problem)[:k]


@MANY
@given(problems(), st.lists(st.integers(-2, 12), max_size=4))
def test_the_best_chain_within_one_limit_after_the_other(problem: SearchProblem, limits: list[int]) -> None:
    found = best_within(problem, limits, MOST_TRANSITIONS)
    for limit, best in zip(limits, found, strict=True):
        assert best.labels == every_chain(problem._replace(limit_ms=limit))[:1]


@MANY
@given(
    problems(timed=True) | problems(full=True), st.sampled_from((1, 3)), st.integers(1, 12), st.sampled_from((0, 10))
)
def test_what_is_let_go_costs_the_bound_or_more(problem: SearchProblem, k: int, most: int, looks: int) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(beam, "ROWS_PER_TRANSITION", looks)
        best = k_best(problem, k, most_transitions=most)
    everything = every_chain(problem)
    assert set(best.labels) <= set(everything)
    assert best.labels[: best.proven] == everything[: best.proven]
    if best.bound is None:
        assert best.labels == everything[:k]
    else:
        missed = [label for label in everything[:k] if label not in best.labels]
        assert all(label.cost >= best.bound for label in missed)


def test_a_bound_is_met_at_all() -> None:
    """A problem too wide for the moves allowed: the bound is there, and below the cost of what was found."""
    slots = 5
    rules = [Constraint({a: 1 << i, b: 1 << i}, cost=i + 1) for a in range(slots) for b in range(a) for i in range(4)]
    problem = SearchProblem((levels_of([(0, 0)] * 4),) * slots, tuple(rules))
    best = k_best(problem, 2, most_transitions=4)
    assert best.bound is not None
    assert best.bound <= best.labels[-1].cost
    assert best.proven < 2
    assert k_best(problem, 2).bound is None


@pytest.mark.parametrize("k", [1, 4, 5])
def test_between_equals_the_earlier_positions_come_first(k: int) -> None:
    problem = SearchProblem((levels_of([(1, 0), (1, 0)]), levels_of([(2, 0), (2, 0)])), ())
    picks = [(0, 0), (0, 1), (1, 0), (1, 1)]
    assert k_best(problem, k).labels == [Label(3, pick, 0) for pick in picks[:k]]


def test_a_tie_at_the_kth_place_goes_to_the_earlier_positions() -> None:
    """The dearer first slot with the cheaper second costs the same as the other way round."""
    problem = SearchProblem((levels_of([(2, 0), (1, 0)]), levels_of([(2, 0), (1, 0)])), ())
    assert [label.picks for label in k_best(problem, 3).labels] == [(1, 1), (0, 1), (1, 0)]


def test_no_slots_has_one_empty_chain_and_an_empty_slot_none() -> None:
    assert k_best(SearchProblem((), ()), 3).labels == [Label(0, (), 0)]
    assert k_best(SearchProblem(({},), ()), 3).labels == []
