"""Which options any allowed chain uses at all, and how fast: for reasons why not, and for whether a chain exists.

Points don't matter here, so only constraints that forbid or take time are looked at. Where the states grow too many
for a layer, some are merged (kb.engine.wide): then an option may be called usable that isn't, but none is refused that
could be used.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from kb.engine.search.layers import Layer, Transition, layers_of
from kb.engine.search.masks import merged
from kb.engine.search.problem import SearchProblem
from kb.engine.wide import States, relaxed

#: More transitions than this between two slots are merged. No job of the shipped knowledge comes near it: a reason why
#: not must be exact, and without points to keep apart a layer costs a tenth of what it does in the search for the best.
MOST_TRANSITIONS = 400_000
#: A layer with no more is looked at once, and what leads where is kept for the way back.
FEW_TRANSITIONS = 30_000


class _Reached(NamedTuple):
    """The states before a slot, by the milliseconds of the fastest way there, and what states were merged into."""

    states: States
    merged_into: Mapping[int, int]
    #: Where each state leads, once the next layer was reached from it; None where that is too much to keep.
    leads: list[list[Transition]] | None = None


def feasible(problem: SearchProblem, most_transitions: int = MOST_TRANSITIONS) -> bool:
    """Tell whether any chain keeps every constraint and the time limit."""
    return soonest(problem, most_transitions) is not None


def soonest(problem: SearchProblem, most_transitions: int = MOST_TRANSITIONS) -> int | None:
    """Give the milliseconds of the fastest chain, where time is limited; None where none keeps limit and constraints.

    What can't be ready in time any more isn't followed.
    """
    least = _forward(_layers(problem), most_transitions, problem.limit_ms)[-1].states.get(0)
    return None if least is None or (problem.limit_ms is not None and least > problem.limit_ms) else least


def fastest(problem: SearchProblem, most_transitions: int = MOST_TRANSITIONS) -> list[dict[int, int]]:
    """Give each slot's options by the milliseconds of the fastest allowed chain that uses them: time -> mask.

    An option that no allowed chain uses is in none. The time limit isn't applied: who asks compares.
    """
    layers = _layers(problem)
    forward = _forward(layers, most_transitions)
    after: States = {0: 0}
    by_slot: list[dict[int, int]] = []
    for slot in range(len(layers) - 1, -1, -1):
        merged_into = forward[slot + 1].merged_into
        least: dict[int, int] = {}
        before: States = {}
        for state, spent, leads in _leading(forward[slot], layers[slot]):
            for group, following, _, ms in leads:
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


def _forward(layers: list[Layer], most: int, limit: int | None = None) -> list[_Reached]:
    """Reach the states before each slot and after the last; with a limit, those from which it can still be kept."""
    forward = [_Reached({0: 0}, {})]
    to_go = sum(min((group.ms for group in layer.groups), default=0) for layer in layers)
    for slot, layer in enumerate(layers):
        here = forward[slot]
        kept: list[list[Transition]] | None = None
        if len(here.states) * len(layer.groups) <= FEW_TRANSITIONS:
            kept = [layer.transitions(state, layer.groups) for state in here.states]
            here = forward[slot] = here._replace(leads=kept)
        reached: States = {}
        for _, spent, leads in _leading(here, layer):
            for group, after, _, ms in leads:
                total = spent + group[2] + ms
                if after not in reached or total < reached[after]:
                    reached[after] = total
        to_go -= min((group.ms for group in layer.groups), default=0)
        if limit is not None:
            reached = {state: spent for state, spent in reached.items() if spent + to_go <= limit}
        groups = len(layers[slot + 1].groups) if slot + 1 < len(layers) else 1
        forward.append(_Reached(*relaxed(reached, max(1, most // max(1, groups)))))
    return forward


def _leading(here: _Reached, layer: Layer) -> Iterator[tuple[int, int, list[Transition]]]:
    """Give each state before a slot, the time spent until then, and where it leads."""
    leads = here.leads or (layer.transitions(state, layer.groups) for state in here.states)
    return ((state, spent, leading) for (state, spent), leading in zip(here.states.items(), leads, strict=True))
