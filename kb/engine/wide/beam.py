"""A beam over the layers: states are taken up by a lower bound on the chains through them, as many as there is room.

What is let go is not forgotten: the least bound of it is given, so that chains below it are known to be the best.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from typing import NamedTuple

from kb.engine.search.layers import Graph, Layer, Transition
from kb.engine.wide.lower_bounds import LowerBounds

#: For each transition allowed, most rows looked at to bound the rest of a chain.
ROWS_PER_TRANSITION = 10


class Beam(NamedTuple):
    """The part of a state graph that was looked at.

    `lost` is the least bound of what was let go for want of room, `above` of what is dearer than the threshold; None
    where nothing was.
    """

    graph: Graph
    lost: int | None
    above: int | None


def beam_search(layers: Sequence[Layer], most: int, threshold: int | None) -> Beam:
    """Expand the states that may be part of a chain of cost `threshold` or less, with about `most` transitions a layer.

    Puts each layer's groups in order of what they cost at the least.
    """
    bounds = LowerBounds(layers)
    lost: list[int] = []
    above: list[int] = []
    graph: Graph = []
    frontier = {0: 0}
    for slot, layer in enumerate(layers):
        ranked = []
        enough = bounds.work(slot) + ROWS_PER_TRANSITION * most
        for spent, state in sorted((spent, state) for state, spent in frontier.items()):
            if bounds.work(slot) > enough:
                lost.append(spent + bounds.of_any_state(slot))
                break
            to_go = bounds.of(slot, state)
            if to_go is None:
                continue
            bound = spent + sum(to_go)
            if threshold is None or bound <= threshold:
                ranked.append((bound, spent + to_go[1], state, spent))
            else:
                above.append(bound)
        states: dict[int, list[Transition]] = {}
        frontier = {}
        room = most
        least = bounds.least[slot]
        for bound, others, state, spent in sorted(ranked):
            wanted = len(least) if threshold is None else bisect_right(least, threshold - others)
            taken = min(wanted, max(room, 0))
            if taken < wanted:
                lost.append(max(bound, others + least[taken]))
                if not taken:
                    break
            room -= taken
            states[state] = layer.transitions(state, layer.groups[:taken])
            for group, after, cost, _ in states[state]:
                total = spent + group.cost + cost
                if after not in frontier or total < frontier[after]:
                    frontier[after] = total
        graph.append(states)
    return Beam(graph, min(lost, default=None), min(above, default=None))
