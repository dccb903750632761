"""What the search leaves aside: no chain is cheaper than the bounds say, and along a tree they are exact."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from kb.engine.search.layers import Layer, layers_of
from kb.engine.search.marginals import SpanningTree, Timing
from kb.engine.search.masks import union
from kb.engine.search.problem import Label, SearchProblem
from kb.engine.wide.lower_bounds import LowerBounds
from tests.engine.search.problems import every_chain, levels_of, problems

MANY = settings(max_examples=400)


def cheapest(chains: list[Label]) -> dict[tuple[int, int], int]:
    """By slot and option the cost of the cheapest chain through it; `chains` are in order."""
    found: dict[tuple[int, int], int] = {}
    for label in chains:
        for place in enumerate(label.picks):
            found.setdefault(place, label.cost)
    return found


def generous(problem: SearchProblem) -> SearchProblem:
    """With rules that forbid nothing and take points off."""
    giving = (each._replace(forbids=False, cost=-abs(each.cost)) for each in problem.constraints)
    return problem._replace(constraints=tuple(giving))


def lenient(problem: SearchProblem) -> SearchProblem:
    """With rules that forbid nothing."""
    return problem._replace(constraints=tuple(rule._replace(forbids=False) for rule in problem.constraints))


def bounds(tree: SpanningTree, most: int) -> dict[tuple[int, int], int]:
    """By slot and option what the tree says that a chain through it costs at the least, up to `most`."""
    reach, _ = tree.within(most)
    return {
        (slot, bit): cost
        for slot, costs in enumerate(reach)
        for cost, members in costs
        for bit in range(members.bit_length())
        if members >> bit & 1
    }


@MANY
@given(problems() | problems(full=True).map(generous), st.integers(-6, 12))
def test_no_chain_is_cheaper_than_the_tree_says(problem: SearchProblem, most: int) -> None:
    chains = every_chain(problem)
    tree = SpanningTree(layers_of(problem.options, problem.constraints))
    if not chains:
        return
    assert tree.least is not None
    assert tree.least <= chains[0].cost
    said = bounds(tree, most)
    assert all(said.get(place, most + 1) <= cost for place, cost in cheapest(chains).items())


def in_a_line(problem: SearchProblem) -> SearchProblem:
    """Only with the rules that join a slot to the one before it."""
    return problem._replace(
        constraints=tuple(r for r in problem.constraints if len(r.sets) == 2 and max(r.sets) - min(r.sets) == 1)
    )


@MANY
@given(problems().map(in_a_line))
def test_along_a_tree_the_bounds_are_exact(problem: SearchProblem) -> None:
    chains = every_chain(problem)
    tree = SpanningTree(layers_of(problem.options, problem.constraints))
    assert tree.least == (chains[0].cost if chains else None)
    assert bounds(tree, 10_000) == cheapest(chains)


def begun(problem: SearchProblem, walk: list[Layer], picks: tuple[int, ...]) -> tuple[int, int]:
    """What the first slots cost when filled with `picks`, and the state after them."""
    spent = state = 0
    for levels, frontier, position in zip(problem.options, walk, picks, strict=False):
        spent += next(cost for (cost, _), members in levels.items() if members >> position & 1)
        matches = union(bits for mask, bits in frontier.sets.items() if mask >> position & 1)
        alive = (state | frontier.begins) & (matches | ~frontier.touched)
        effect = frontier.effect(alive & frontier.ends)
        assert effect is not None
        spent, state = spent + effect[0], alive & ~frontier.ends
    return spent, state


@MANY
@given(problems() | problems(full=True).map(generous))
def test_the_rest_is_never_dearer_than_a_chain_shows(problem: SearchProblem) -> None:
    """From each state on the way: what was spent and the least of the rest come to no more than the chain costs."""
    walk = layers_of(problem.options, problem.constraints)
    for frontier in walk:
        frontier.group(-1)
    bounds_ahead = LowerBounds(walk)
    for label in every_chain(problem):
        for slot in range(len(walk) + 1):
            spent, state = begun(problem, walk, label.picks[:slot])
            rest = bounds_ahead.of(slot, state)
            assert rest is not None
            assert spent + sum(rest) <= label.cost


@MANY
@given(problems(timed=True, full=True).map(lenient))
def test_what_a_chain_in_time_uses_is_not_left_aside(problem: SearchProblem) -> None:
    assert problem.limit_ms is not None
    kept = [union(levels.values()) for levels in Timing(problem).options(problem.limit_ms)]
    for label in every_chain(problem):
        assert all(members >> position & 1 for members, position in zip(kept, label.picks, strict=True))


def test_what_is_plainly_too_slow_is_left_aside() -> None:
    problem = SearchProblem((levels_of([(1, 3), (2, 1)]), levels_of([(0, 2), (0, 4)])), (), limit_ms=4)
    assert [*map(dict, Timing(problem).options(4))] == [{(2, 1): 2}, {(0, 2): 1}]
