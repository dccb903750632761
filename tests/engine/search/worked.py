"""The search that docs/engine.md draws: three slots, three constraints, and every number on the way.

python -m tests.engine.search.worked
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from itertools import product
from unittest.mock import patch

from kb.engine.search import k_best
from kb.engine.search.k_best import Search
from kb.engine.search.layers import Graph, expanded
from kb.engine.search.masks import positions_of
from kb.engine.search.problem import Constraint, SearchProblem

#: By slot the options' own points.
OPTIONS = {"A": {"a": 5, "b": 1, "c": 2}, "B": {"d": 4, "e": 6, "f": 2}, "C": {"g": 2, "h": 3, "i": 5}}
SLOTS = tuple(OPTIONS)
#: Name, option sets, and points; None: forbidden.
CONSTRAINTS: tuple[tuple[str, dict[str, str], int | None], ...] = (
    ("r", {"A": "b", "B": "f"}, None),
    ("s", {"B": "de", "C": "g"}, 5),
    ("t", {"A": "bc", "C": "gh"}, -2),
)
K = 2


def problem() -> SearchProblem:
    """The example as the search takes it."""
    options = []
    for points in OPTIONS.values():
        levels: dict[tuple[int, int], int] = {}
        for position, cost in enumerate(points.values()):
            levels[cost, 0] = levels.get((cost, 0), 0) | 1 << position
        options.append(levels)
    constraints = [
        Constraint({SLOTS.index(s): _mask(s, names) for s, names in sets.items()}, points or 0, forbids=points is None)
        for _, sets, points in CONSTRAINTS
    ]
    return SearchProblem(tuple(options), tuple(constraints))


def every_chain() -> dict[str, int]:
    """Cost of each allowed chain, counted without the search; cheapest first, then in order of options."""
    costs: dict[str, int] = {}
    for chain in product(*OPTIONS.values()):
        met = [points for _, sets, points in CONSTRAINTS if all(chain[SLOTS.index(s)] in sets[s] for s in sets)]
        if None not in met:
            own = sum(OPTIONS[slot][name] for slot, name in zip(SLOTS, chain, strict=True))
            costs["".join(chain)] = own + sum(points for points in met if points is not None)
    return dict(sorted(costs.items(), key=lambda pair: pair[1]))


def told() -> str:
    """Every step of the search, as docs/engine.md shows it."""
    return "\n".join(line.rstrip() for part in (_given(), _bounds(), _graph(), _best_first()) for line in part)


def _given() -> Iterator[str]:
    yield "Given: the options of three slots with their own points, and three constraints"
    for slot, options in OPTIONS.items():
        yield f"  {slot}   " + "   ".join(f"{name} {points}" for name, points in options.items())
    for name, sets, points in CONSTRAINTS:
        where = " and ".join(f"{slot} from {{{','.join(names)}}}" for slot, names in sets.items())
        yield f"  {name}   {where}: {'forbidden' if points is None else f'{points:+} points'}"


def _bounds() -> Iterator[str]:
    search = Search(problem(), K)
    nodes = search.tree.nodes
    parents = [next((n for n, other in enumerate(nodes) if other is node.parent), None) for node in nodes]
    edges = [f"{SLOTS[p]}-{SLOTS[n]} by {_names(nodes[n].joined)}" for n, p in enumerate(parents) if p is not None]
    threshold = search._first_threshold()
    yield ""
    yield f"1. Bound. The spanning tree: {', '.join(edges)}. The least cost of a chain through each option:"
    yield "       bound   exact"
    chains = every_chain()
    for slot, here in enumerate(search.tree.within(1_000)[0]):
        bounds = {position: cost for cost, members in here for position in positions_of(members)}
        for position, name in enumerate(OPTIONS[SLOTS[slot]]):
            exact = min(cost for chain, cost in chains.items() if chain[slot] == name)
            aside = "   left aside" if bounds[position] > threshold else ""
            yield f"  {SLOTS[slot]} {name} {bounds[position]:>6} {exact:>7}{aside}"
    yield f"  {K} chains may cost as little as {threshold}: the threshold."


def _graph() -> Iterator[str]:
    graph = _expanded(Search(problem(), K))
    to_go = k_best._costs_to_go(graph, None)
    yield ""
    yield "2. Expand, and 3. backward. The states before each slot, their cost-to-go, and the steps from them:"
    for slot, states in enumerate(graph):
        names = list(OPTIONS[SLOTS[slot]])
        for state, transitions in states.items():
            steps = sorted(
                (names[position], own + points, _state(after))
                for group, after, points, _ in transitions
                for own, _, members in group.levels
                for position in positions_of(members)
            )
            drawn = "   ".join(f"{name} {points} > {after}" for name, points, after in steps)
            yield f"  before {SLOTS[slot]}  {_state(state):<6} {to_go[slot][state][0][0]:>2} to go   {drawn}"


def _best_first() -> Iterator[str]:
    taken: list[tuple[int, tuple[int, ...]]] = []

    def pop(heap: list[k_best._Open]) -> k_best._Open:
        taken.append(heap[0][:2])
        return right(heap)

    right = heapq.heappop
    with patch("heapq.heappop", pop):
        best = Search(problem(), K).run()
    yield ""
    yield "4. Best first. The beginnings as they are taken up, with the least cost of a chain through each:"
    yield "  " + "   ".join(f"{_chain(picks) or '-'} {total}" for total, picks in taken)
    chains = ", ".join(f"{_chain(label.picks)} at {label.cost}" for label in best.labels)
    yield f"  The {K} best chains: {chains}."


def _expanded(search: Search) -> Graph:
    marginals, _ = search.tree.within(search._first_threshold())
    for layer, here in zip(search.layers, marginals, strict=True):
        layer.group(sum(members for _, members in here))
    graph = expanded(search.layers, 800)
    assert graph is not None
    return graph


def _mask(slot: str, names: str) -> int:
    return sum(1 << list(OPTIONS[slot]).index(name) for name in names)


def _names(bits: int) -> str:
    return ",".join(CONSTRAINTS[position][0] for position in positions_of(bits))


def _state(bits: int) -> str:
    return f"{{{_names(bits)}}}"


def _chain(picks: tuple[int, ...]) -> str:
    return "".join(list(OPTIONS[slot])[pick] for slot, pick in zip(SLOTS, picks, strict=False))


if __name__ == "__main__":
    print(told())
