"""The k best ways to fill all slots under weighted constraints: exact, and ignorant of what the slots mean.

Chains are ordered by cost, then by the positions of their options in slot order: the same on every run. docs/engine.md
draws one search with its numbers.

1. Bound: options whose min-marginal is above a threshold are left aside (kb.engine.search.marginals).
2. Expand: forward over the slots, every state that the others reach (kb.engine.search.layers).
3. Backward: the least cost from each state to the end of a chain (its cost-to-go), exactly, by dynamic programming.
4. Best first: beginnings are extended in order of (least cost of a chain that begins so, positions). As that cost is
   exact, every beginning that is taken up is one of a chain among the k best: k chains take k times the slots of steps.

Where fewer than k chains keep to the threshold, the same with a higher one. Where a layer gets too wide, a beam takes
the place of step 2 (kb.engine.wide), and `bound` says what any chain that was lost costs at the least: chains that
cost less than that are proven to be the best.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from kb.engine.search.layers import Graph, Transition, expanded, layers_of
from kb.engine.search.marginals import Marginals, SpanningTree, Timing
from kb.engine.search.masks import bits_of, union
from kb.engine.search.problem import Label, SearchProblem
from kb.engine.wide import beam_search

#: Up to as many transitions (states times groups) in a layer all are looked at: on the shipped knowledge in 584 of 618
#: random jobs that have a chain. No more than as many, too, where any chains are wanted, the best or not.
FEW_TRANSITIONS = 800
#: Most transitions in a layer before states are let go. Where hundreds of rules are alive in every slot, so many take
#: twenty seconds and more.
MOST_TRANSITIONS = 30_000
#: The cost-to-go of a state: (points, milliseconds) that no other way betters in both, points first.
ToGo = tuple[tuple[int, int], ...]


class Best(NamedTuple):
    """The best chains in order. Any chain that is missing costs `bound` or more; None: nothing is missing."""

    labels: list[Label]
    bound: int | None = None

    @property
    def proven(self) -> int:
        """How many of the labels, from the first, are certainly the best ones."""
        return sum(1 for label in self.labels if self.bound is None or label.cost < self.bound)


def k_best(problem: SearchProblem, k: int, most_transitions: int = MOST_TRANSITIONS) -> Best:
    """Find the k cheapest chains that keep the time limit, in order; fewer where fewer exist."""
    best = Search(problem, k, most_transitions).run()
    if problem.limit_ms is None or all(label.ms <= problem.limit_ms for label in best.labels):
        return best
    return Search(problem, k, most_transitions, Timing(problem)).run()


def best_within(problem: SearchProblem, limits_ms: Iterable[int], most_transitions: int) -> Iterator[Best]:
    """Find the cheapest chain that keeps each of several limits: those that the cheapest of all is known to miss."""
    timing = Timing(problem)
    for limit in limits_ms:
        within = problem._replace(limit_ms=limit)
        yield Search(within, 1, most_transitions, timing).run() if timing.may_keep(limit) else Best([])


class Search:
    """One search: made, it has its bounds; `run` then looks for chains.

    With `timing` the limit is kept; else time is only added up.
    """

    def __init__(
        self, problem: SearchProblem, k: int, most: int = MOST_TRANSITIONS, timing: Timing | None = None
    ) -> None:
        self.k, self.most = k, most
        self.limit = problem.limit_ms if timing else None
        options = timing.options(self.limit) if timing and self.limit is not None else problem.options
        self.layers = layers_of(options, problem.constraints)
        self.tree = SpanningTree(self.layers)

    def run(self) -> Best:
        """Look for chains up to a threshold of cost, which is raised until there are k of them or no others."""
        if self.tree.least is None:
            return Best([])
        labels: list[Label] = []
        threshold, step = self._first_threshold(), self.tree.step
        while True:
            marginals, beyond = self.tree.within(threshold)
            for layer, admitted in zip(self.layers, marginals, strict=True):
                layer.group(union(members for _, members in admitted))
            graph, lost, above = expanded(self.layers, min(FEW_TRANSITIONS, self.most)), None, None
            if graph is None:
                graph, lost, above = beam_search(self.layers, self.most, None if beyond is None else threshold)
            chains = self._chains(graph)
            covered = beyond is None or (len(chains) == self.k and chains[-1].cost <= threshold)
            if covered and lost is None:
                return Best(chains)
            labels = self._first(labels, chains)
            if lost is not None:
                if not covered and len(labels) < self.k:
                    narrow = beam_search(self.layers, min(FEW_TRANSITIONS, self.most), None)
                    labels = self._first(labels, self._chains(narrow.graph))
                return Best(labels, max(lost, self.tree.least))
            threshold = max(threshold + step, *(cost for cost in (beyond, above) if cost is not None))
            step *= 2
            if len(labels) == self.k:
                threshold = min(threshold, labels[-1].cost)

    def _first(self, labels: list[Label], chains: list[Label]) -> list[Label]:
        """Merge chains that were found at two thresholds, as many as are wanted."""
        return sorted({*labels, *chains})[: self.k]

    def _first_threshold(self) -> int:
        """Give the least cost that k chains may keep to as far as the tree can tell."""
        assert self.tree.least is not None
        if not self.layers:
            return 0
        root = self.tree.nodes[0].costs
        marginals, _ = self.tree.within(self.tree.least + _kth(root, self.k) - root[0][0])
        return min(_kth(here, self.k) for here in marginals)

    def _chains(self, graph: Graph) -> list[Label]:
        """Take the k best chains of a graph, best first."""
        to_go = _costs_to_go(graph, self.limit)
        start = to_go[0].get(0, ())
        labels: list[Label] = []
        steps: dict[tuple[int, int, int | None], list[tuple[int, list[_Step]]]] = {}
        heap: list[_Open] = []
        if start:
            heap.append((start[0][0], (), 0, 0, 0, iter(())))
        while heap and len(labels) < self.k:
            _, picks, state, cost, ms, siblings = heapq.heappop(heap)
            _push(heap, picks[:-1], siblings)
            slot = len(picks)
            if slot == len(graph):
                labels.append(Label(cost, picks, ms))
                continue
            left = None if self.limit is None else self.limit - ms
            key = (slot, state, left)
            if key not in steps:
                steps[key] = _steps(graph[slot][state], to_go[slot + 1], left)
            _push(heap, picks, _children(steps[key], cost, ms))
        return labels


#: A step on from a state: members, the state after, points and time of the step.
_Step = tuple[int, int, int, int]
#: An extension of a beginning: least cost of a chain through it, position, state, cost and time so far.
_Child = tuple[int, int, int, int, int]
#: A beginning: least cost of a chain that begins so, its positions, state, cost and time so far, its next siblings.
_Open = tuple[int, tuple[int, ...], int, int, int, Iterator[_Child]]


def _push(heap: list[_Open], picks: tuple[int, ...], children: Iterator[_Child]) -> None:
    """Push the next of `children`; the others wait until it has been taken off."""
    child = next(children, None)
    if child is not None:
        total, position, state, cost, ms = child
        heapq.heappush(heap, (total, (*picks, position), state, cost, ms, children))


def _steps(
    transitions: Sequence[Transition], to_go: dict[int, ToGo], left: int | None
) -> list[tuple[int, list[_Step]]]:
    """Order the steps on from a state by their cost with all that follows, within `left` milliseconds."""
    by_cost: dict[int, list[_Step]] = {}
    for group, after, cost, ms in transitions:
        rest = to_go.get(after)
        if rest is None:
            continue
        for own, own_ms, members in group.levels:
            if left is None:
                least = rest[0][0]
            else:
                in_time = [points for points, time in rest if own_ms + ms + time <= left]
                if not in_time:
                    continue
                least = min(in_time)
            by_cost.setdefault(own + cost + least, []).append((members, after, own + cost, own_ms + ms))
    return sorted(by_cost.items())


def _children(steps: Sequence[tuple[int, list[_Step]]], cost: int, ms: int) -> Iterator[_Child]:
    """Extend a beginning that cost `cost` and `ms` by each option, by (least cost of the chain, position)."""
    for least, alike in steps:
        for bit in bits_of(union(step[0] for step in alike)):
            _, after, points, time = next(step for step in alike if step[0] & bit)
            yield cost + least, bit.bit_length() - 1, after, cost + points, ms + time


def _costs_to_go(graph: Graph, limit: int | None) -> list[dict[int, ToGo]]:
    """Work out the cost-to-go of each state before each slot; states that lead nowhere are left out."""
    after: dict[int, ToGo] = {0: ((0, 0),)}
    backward = [after]
    for states in reversed(graph):
        before: dict[int, ToGo] = {}
        for state, transitions in states.items():
            rest = _cheapest(transitions, after) if limit is None else _undominated(transitions, after, limit)
            if rest:
                before[state] = rest
        after = before
        backward.append(after)
    return backward[::-1]


def _cheapest(transitions: Sequence[Transition], after: dict[int, ToGo]) -> ToGo:
    """Give the least cost alone, where time doesn't count."""
    totals = [group[1] + cost + after[state][0][0] for group, state, cost, _ in transitions if state in after]
    return ((min(totals), 0),) if totals else ()


def _undominated(transitions: Sequence[Transition], after: dict[int, ToGo], limit: int) -> ToGo:
    """Give every pair of cost and time within the limit that no other dominates."""
    pairs = sorted(
        {
            (own + cost + points, own_ms + ms + time)
            for group, state, cost, ms in transitions
            for own, own_ms, _ in group.levels
            for points, time in after.get(state, ())
            if own_ms + ms + time <= limit
        }
    )
    front: list[tuple[int, int]] = []
    for pair in pairs:
        if not front or pair[1] < front[-1][1]:
            front.append(pair)
    return tuple(front)


def _kth(marginals: Marginals, k: int) -> int:
    """Give the bound of the k-th of the options; of the last where there are fewer."""
    for cost, members in marginals:
        k -= members.bit_count()
        if k <= 0:
            return cost
    return marginals[-1][0]
