"""Which options any allowed chain uses at all, and how fast: for reasons why not, and for whether a chain exists.

Points don't matter here, so only constraints that forbid or take time are looked at. Where the states grow too many
for a layer, some are merged (kb.engine.wide): then an option may be called usable that isn't, but none is refused that
could be used.
"""

from __future__ import annotations

from kb.engine.search.layers import Layer, layers_of
from kb.engine.search.masks import merged
from kb.engine.search.problem import SearchProblem
from kb.engine.wide import States, relaxed

#: More transitions than this between two slots are merged. No job of the shipped knowledge comes near it: a reason why
#: not must be exact, and without points to keep apart a layer costs a tenth of what it does in the search for the best.
MOST_TRANSITIONS = 400_000


def feasible(problem: SearchProblem, most_transitions: int = MOST_TRANSITIONS) -> bool:
    """Tell whether any chain keeps every constraint and the time limit."""
    least = soonest(problem, most_transitions)
    return least is not None and (problem.limit_ms is None or least <= problem.limit_ms)


def soonest(problem: SearchProblem, most_transitions: int = MOST_TRANSITIONS) -> int | None:
    """Give the milliseconds of the fastest chain, where time is limited; None where no chain keeps every constraint."""
    last, _ = _forward(_layers(problem), most_transitions)[-1]
    return last.get(0)


def fastest(problem: SearchProblem, most_transitions: int = MOST_TRANSITIONS) -> list[dict[int, int]]:
    """Give each slot's options by the milliseconds of the fastest allowed chain that uses them: time -> mask.

    An option that no allowed chain uses is in none. The time limit isn't applied: who asks compares.
    """
    layers = _layers(problem)
    forward = _forward(layers, most_transitions)
    after: States = {0: 0}
    by_slot: list[dict[int, int]] = []
    for slot in range(len(layers) - 1, -1, -1):
        reached, merged_into = forward[slot][0], forward[slot + 1][1]
        least: dict[int, int] = {}
        before: States = {}
        for state, spent in reached.items():
            for group, following, _, ms in layers[slot].transitions(state, layers[slot].groups):
                rest = after.get(merged_into.get(following, following))
                if rest is not None:
                    rest += ms
                    least[group.matches] = min(spent + rest, least.get(group.matches, spent + rest))
                    before[state] = min(rest + group.ms, before.get(state, rest + group.ms))
        after = before
        by_slot.append(
            merged(
                (least[group.matches] + ms, members)
                for group in layers[slot].groups
                if group.matches in least
                for _, ms, members in group.levels
            )
        )
    return by_slot[::-1]


def _layers(problem: SearchProblem) -> list[Layer]:
    """Lay out the slots with the constraints that forbid or take time; without a time limit with those that forbid."""
    timed = problem.limit_ms is not None
    layers = layers_of(
        [merged(((0, ms if timed else 0), mask) for (_, ms), mask in levels.items()) for levels in problem.options],
        [constraint for constraint in problem.constraints if constraint.forbids or (timed and constraint.ms)],
    )
    for layer in layers:
        layer.group(-1)
    return layers


def _forward(layers: list[Layer], most: int) -> list[tuple[States, States]]:
    """Reach the states before each slot and after the last, each with what states were merged into."""
    forward: list[tuple[States, States]] = [({0: 0}, {})]
    for slot, layer in enumerate(layers):
        reached: States = {}
        for state, spent in forward[slot][0].items():
            for group, after, _, ms in layer.transitions(state, layer.groups):
                total = spent + group.ms + ms
                if after not in reached or total < reached[after]:
                    reached[after] = total
        groups = len(layers[slot + 1].groups) if slot + 1 < len(layers) else 1
        forward.append(relaxed(reached, max(1, most // max(1, groups))))
    return forward
