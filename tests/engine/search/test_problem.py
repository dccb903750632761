"""A problem of which a part is asked for: no chain is lost, and no slot keeps what is plainly forbidden."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from kb.engine.search.masks import union
from kb.engine.search.problem import Constraint, SearchProblem
from tests.engine.search.problems import every_chain, problems


@given(problems(), st.lists(st.integers(0, 15), min_size=5, max_size=5))
def test_a_part_has_the_chains_of_the_whole_that_lie_in_it(problem: SearchProblem, masks: list[int]) -> None:
    masks = masks[: len(problem.options)]
    inside = [
        chain
        for chain in every_chain(problem)
        if all(mask >> pick & 1 for mask, pick in zip(masks, chain.picks, strict=True))
    ]
    assert every_chain(problem.only(masks)) == inside


def test_what_the_part_forbids_goes_round_after_round() -> None:
    """The first option of the last slot forbids one of the middle, and what is left there forbids one of the first."""
    options = ({(0, 0): 0b11}, {(0, 0): 0b11}, {(0, 0): 0b11})
    rules = (Constraint({0: 0b01, 1: 0b10}, forbids=True), Constraint({1: 0b01, 2: 0b01}, forbids=True))
    part = SearchProblem(options, rules).only([0b11, 0b11, 0b01])
    assert [union(levels.values()) for levels in part.options] == [0b10, 0b10, 0b01]


def test_what_changes_no_chain_does_not_count() -> None:
    assert not Constraint({0: 1, 1: 1}).counts
    assert all(Constraint({0: 1, 1: 1}, **one).counts for one in ({"cost": -1}, {"ms": 1}, {"forbids": True}))
