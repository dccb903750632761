"""The k best ways to fill all slots under weighted rules: exact, and ignorant of what the slots mean.

Chains are ordered by cost, then by the positions of their options in slot order: the same on every run.

First what a chain through each option costs at the least: options that are too dear for any
chain up to some cost are left aside. Among the others, forward over the slots: which states can be reached
(kb.engine.search.layers), as far as they can still pay off. Backward: what the rest of a chain
costs at the least from each of them, exactly. Then best first: the open beginnings are extended in order of (cost of
the best chain that begins so, positions). As that cost is exact, every beginning that is taken up is one of a chain
that is among the k best, so k chains take k times the number of slots of steps. Where fewer than k chains cost as
little, the same with a higher cost.

Where the states grow too many for a slot, those with the least hope are let go, and `bound` says what any chain
that was lost with them costs at the least: chains that cost less than that are proven to be the best.
"""

from __future__ import annotations

import heapq
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from kb.engine.search.layers import Move, Problem, bits_of, frontiers, union
from kb.engine.search.marginals import Costs, Tree, in_time
from kb.engine.wide.lower_bounds import Outlook

#: Most moves (states times groups) looked at in one slot before states are let go. The shipped knowledge hardly ever
#: needs more than FEW_MOVES; where hundreds of rules are alive in every slot, so many take a quarter of a minute.
MOST_MOVES = 20_000
#: Up to as many, all are looked at; and as many where any chains are wanted, the best or not.
FEW_MOVES = 800
#: For each move allowed, most ways looked at to tell what the rest of a chain costs at the least.
LOOKS_PER_MOVE = 10
#: What the rest of a chain costs at the least: (points, milliseconds) that no other way betters in both.
Rest = tuple[tuple[int, int], ...]
#: For each slot the states before it, with the moves from each.
Layers = list[dict[int, list[Move]]]


class Label(NamedTuple):
    """A complete chain: its cost, the position of its option in each slot, and its time."""

    cost: int
    picks: tuple[int, ...]
    ms: int


class Best(NamedTuple):
    """The best chains in order. Any chain that is missing costs `bound` or more; None: nothing is missing."""

    labels: list[Label]
    bound: int | None = None

    @property
    def proven(self) -> int:
        """How many of the labels, from the first, are certainly the best ones."""
        return sum(1 for label in self.labels if self.bound is None or label.cost < self.bound)


def k_best(problem: Problem, k: int, most_moves: int = MOST_MOVES) -> Best:
    """The k cheapest chains that keep the time limit, in order; fewer where fewer exist."""
    best = Search(problem, k, most_moves).run()
    if problem.limit_ms is None or all(label.ms <= problem.limit_ms for label in best.labels):
        return best
    return Search(problem, k, most_moves, timed=True).run()


class Search:
    """One search: made, it knows what a chain through each option costs at the least; `run` then looks for chains.

    `timed`: the limit is kept; else time is only added up.
    """

    def __init__(self, problem: Problem, k: int, most_moves: int = MOST_MOVES, timed: bool = False) -> None:
        self.k, self.most = k, most_moves
        self.limit = problem.limit_ms if timed else None
        self.walk = frontiers(problem.options if self.limit is None else in_time(problem, self.limit), problem.rules)
        self.tree = Tree(self.walk)

    def run(self) -> Best:
        """Looks for chains up to a cost, which is raised until there are k of them or no others."""
        if self.tree.least is None:
            return Best([])
        found: list[Label] = []
        most, step = self._start(), self.tree.step
        while True:
            reach, beyond = self.tree.within(most)
            for frontier, costs in zip(self.walk, reach, strict=True):
                frontier.split(union(members for _, members in costs))
            layers, lost, dearer = self._layers(None if beyond is None else most)
            chains = self._chains(layers)
            covered = beyond is None or (len(chains) == self.k and chains[-1].cost <= most)
            if covered and lost is None:
                return Best(chains)
            found = sorted({*found, *chains})[: self.k]
            if lost is not None:
                if not covered and len(found) < self.k:
                    layers, _, _ = self._hopeful(min(FEW_MOVES, self.most), None)
                    found = sorted({*found, *self._chains(layers)})[: self.k]
                return Best(found, max(lost, self.tree.least))
            most = max(most + step, *(cost for cost in (beyond, dearer) if cost is not None))
            step *= 2
            if len(found) == self.k:
                most = min(most, found[-1].cost)

    def _start(self) -> int:
        """The least cost that k chains may keep as far as the tree can tell."""
        assert self.tree.least is not None
        if not self.walk:
            return 0
        first = self.tree.branches[0].costs
        reach, _ = self.tree.within(self.tree.least + _kth(first, self.k) - first[0][0])
        return min(_kth(costs, self.k) for costs in reach)

    def _layers(self, worst: int | None) -> tuple[Layers, int | None, int | None]:
        """The moves that can be part of a chain of cost `worst` or less.

        With them, the least of what was let go, and the least that was found to be dearer than `worst`.
        """
        everything = self._everything(min(FEW_MOVES, self.most))
        if everything is not None:
            return everything, None, None
        return self._hopeful(self.most, worst)

    def _everything(self, most: int) -> Layers | None:
        """The moves from every state that can be reached, slot after slot; None where they are more than `most`."""
        layers: Layers = []
        states = {0: None}
        for frontier in self.walk:
            if len(states) * len(frontier.groups) > most:
                return None
            layers.append({state: frontier.moves(state, frontier.groups) for state in states})
            states = dict.fromkeys(after for moves in layers[-1].values() for _, after, _, _ in moves)
        return layers

    def _hopeful(self, most: int, worst: int | None) -> tuple[Layers, int | None, int | None]:
        """As `_layers`, with at most about `most` moves in a slot.

        States are taken up by what a chain through them costs at the least.
        """
        outlook = Outlook(self.walk)
        lost: list[int] = []
        dearer: list[int] = []
        layers: Layers = []
        reached = {0: 0}
        for slot, frontier in enumerate(self.walk):
            states = []
            enough = outlook.looked(slot) + LOOKS_PER_MOVE * most
            for spent, state in sorted((spent, state) for state, spent in reached.items()):
                if outlook.looked(slot) > enough:
                    lost.append(spent + outlook.at_least(slot))
                    break
                rest = outlook.rest(slot, state)
                if rest is None:
                    continue
                if worst is None or spent + sum(rest) <= worst:
                    states.append((spent + sum(rest), spent + rest[1], state, spent))
                else:
                    dearer.append(spent + sum(rest))
            layer: dict[int, list[Move]] = {}
            reached = {}
            room = most
            least = outlook.least[slot]
            for hope, others, state, spent in sorted(states):
                wanted = len(least) if worst is None else bisect_right(least, worst - others)
                taken = min(wanted, max(room, 0))
                if taken < wanted:
                    lost.append(max(hope, others + least[taken]))
                    if not taken:
                        break
                room -= taken
                layer[state] = frontier.moves(state, frontier.groups[:taken])
                for group, after, cost, _ in layer[state]:
                    total = spent + group[1] + cost
                    if after not in reached or total < reached[after]:
                        reached[after] = total
            layers.append(layer)
        return layers, min(lost, default=None), min(dearer, default=None)

    def _chains(self, layers: Layers) -> list[Label]:
        ahead = _backward(layers, self.limit)
        start = ahead[0].get(0, ())
        slots = len(layers)
        found: list[Label] = []
        known: dict[tuple[int, int, int | None], list[tuple[int, list[_Way]]]] = {}
        # Entries: least cost of a chain that begins so, its beginning, state, cost and time so far, its next sibling.
        heap: list[tuple[int, tuple[int, ...], int, int, int, Iterator[_Child]]] = []
        if start:
            heap.append((start[0][0], (), 0, 0, 0, iter(())))
        while heap and len(found) < self.k:
            _, picks, state, cost, ms, siblings = heapq.heappop(heap)
            _push(heap, picks[:-1], siblings)
            if len(picks) == slots:
                found.append(Label(cost, picks, ms))
                continue
            slot = len(picks)
            left = None if self.limit is None else self.limit - ms
            key = (slot, state, left)
            if key not in known:
                known[key] = _ways(layers[slot][state], ahead[slot + 1], left)
            _push(heap, picks, _children(known[key], cost, ms))
        return found


#: A way on from a state: members, the state after, points and time of the step.
_Way = tuple[int, int, int, int]
#: An extension of a beginning: least cost of a chain through it, position, state, cost and time so far.
_Child = tuple[int, int, int, int, int]


def _push(
    heap: list[tuple[int, tuple[int, ...], int, int, int, Iterator[_Child]]],
    picks: tuple[int, ...],
    children: Iterator[_Child],
) -> None:
    """The next of `children` onto the heap; the others wait until it has been taken off."""
    child = next(children, None)
    if child is not None:
        total, position, state, cost, ms = child
        heapq.heappush(heap, (total, (*picks, position), state, cost, ms, children))


def _ways(moves: Sequence[Move], ahead: dict[int, Rest], left: int | None) -> list[tuple[int, list[_Way]]]:
    """The ways on by the least cost of what follows, step and rest together, within `left` milliseconds."""
    found: dict[int, list[_Way]] = {}
    for group, after, cost, ms in moves:
        rest = ahead.get(after)
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
            found.setdefault(own + cost + least, []).append((members, after, own + cost, own_ms + ms))
    return sorted(found.items())


def _children(ways: Sequence[tuple[int, list[_Way]]], cost: int, ms: int) -> Iterator[_Child]:
    """Every extension of a beginning that cost `cost` and `ms`, by (least cost of the chain, position)."""
    for least, alike in ways:
        for bit in bits_of(union(way[0] for way in alike)):
            _, after, points, time = next(way for way in alike if way[0] & bit)
            yield cost + least, bit.bit_length() - 1, after, cost + points, ms + time


def _backward(layers: Layers, limit: int | None) -> list[dict[int, Rest]]:
    """What the rest costs from each state before each slot; states that lead nowhere are left out."""
    ahead: dict[int, Rest] = {0: ((0, 0),)}
    found = [ahead]
    for layer in reversed(layers):
        before: dict[int, Rest] = {}
        for state, moves in layer.items():
            rest = _rest(moves, ahead) if limit is None else _timed_rest(moves, ahead, limit)
            if rest:
                before[state] = rest
        ahead = before
        found.append(ahead)
    return found[::-1]


def _rest(moves: Sequence[Move], ahead: dict[int, Rest]) -> Rest:
    """The least cost alone."""
    totals = [group[1] + cost + ahead[after][0][0] for group, after, cost, _ in moves if after in ahead]
    return ((min(totals), 0),) if totals else ()


def _timed_rest(moves: Sequence[Move], ahead: dict[int, Rest], limit: int) -> Rest:
    """Every pair of cost and time within the limit that no other betters in both."""
    pairs = sorted(
        {
            (own + cost + points, own_ms + ms + time)
            for group, after, cost, ms in moves
            for own, own_ms, _ in group.levels
            for points, time in ahead.get(after, ())
            if own_ms + ms + time <= limit
        }
    )
    kept: list[tuple[int, int]] = []
    for pair in pairs:
        if not kept or pair[1] < kept[-1][1]:
            kept.append(pair)
    return tuple(kept)


def _kth(costs: Costs, k: int) -> int:
    """What the k-th of the options costs; the last where there are fewer."""
    for cost, members in costs:
        k -= members.bit_count()
        if k <= 0:
            return cost
    return costs[-1][0]
