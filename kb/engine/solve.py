"""The k best ways to fill all slots under weighted rules: exact, and ignorant of what the slots mean.

Chains are ordered by cost, then by the positions of their options in slot order: the same on every run.

Three passes. Forward over the slots: which states can be reached (kb.engine.frontier). Backward: what the rest
of a chain costs at the least from each of them, exactly. Then best first: the open beginnings are extended in
order of (cost of the best chain that begins so, positions). As that cost is exact, every beginning that is taken
up is one of a chain that is among the k best, so k chains take k times the number of slots of steps.

Where the states grow too many for a slot, those with the least hope are let go, and `bound` says what any chain
that was lost with them costs at the least: chains that cost less than that are proven to be the best.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from kb.engine.frontier import Frontier, Levels, Move, Problem, bits_of, frontiers, gathered, union

#: Most moves (states times groups) looked at in one slot before states are let go: about a tenth of a second.
MOST_MOVES = 100_000
#: The same for the first pass, which only looks for a cost to start from.
NARROW = 300
#: What the rest of a chain costs at the least: (points, milliseconds) that no other way betters in both.
Rest = tuple[tuple[int, int], ...]


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
    best = _Search(problem, k, False, most_moves).run()
    if problem.limit_ms is None or all(label.ms <= problem.limit_ms for label in best.labels):
        return best
    return _Search(problem, k, True, most_moves).run()


class _Search:
    """One search. `timed`: the limit is kept; else time is only added up."""

    def __init__(self, problem: Problem, k: int, timed: bool, most_moves: int) -> None:
        self.k, self.most = k, most_moves
        self.limit = problem.limit_ms if timed else None
        self.walk = frontiers(problem.options, problem.rules)
        for frontier in self.walk:
            frontier.levels = contenders(frontier, k, timed)
            frontier.split()
        #: No chain pays less than this from each slot on.
        self.rest = [0]
        for frontier in reversed(self.walk):
            self.rest.append(self.rest[-1] + _least(frontier))
        self.rest.reverse()

    def run(self) -> Best:
        """Narrow passes first: the cost of their k-th chain is one that the k best don't exceed: it prunes the next."""
        width = min(NARROW, self.most)
        found: list[Label] = []
        while True:
            worst = found[-1].cost if len(found) == self.k else None
            layers, bound = self._forward(width, worst)
            found = sorted({*found, *self._chains(layers)})[: self.k]
            if bound is None or width == self.most:
                return Best(found, bound)
            width = min(30 * width, self.most)

    def _forward(self, most: int, worst: int | None) -> tuple[list[dict[int, list[Move]]], int | None]:
        """The moves from each state that is reached, slot after slot, and the least cost of what was let go for width.

        What can't be part of a chain of cost `worst` or less isn't followed.
        """
        bound: int | None = None
        layers: list[dict[int, list[Move]]] = []
        costs = {0: 0}
        for frontier, rest_here, rest in zip(self.walk, self.rest[:-1], self.rest[1:], strict=True):
            room = max(1, most // max(1, len(frontier.groups)))
            if len(costs) > room:
                hopeful = sorted(costs, key=lambda state: (costs[state], state))
                lost = costs[hopeful[room]] + rest_here
                bound = lost if bound is None else min(bound, lost)
                costs = {state: costs[state] for state in hopeful[:room]}
            layer: dict[int, list[Move]] = {}
            reached: dict[int, int] = {}
            for state, spent in costs.items():
                moves = frontier.moves(state)
                if worst is not None:
                    most_here = worst - rest - spent
                    moves = [move for move in moves if move[0][1] + move[2] <= most_here]
                layer[state] = moves
                for group, after, cost, _ in moves:
                    total = spent + group[1] + cost
                    if after not in reached or total < reached[after]:
                        reached[after] = total
            layers.append(layer)
            costs = reached
        return layers, bound

    def _chains(self, layers: Sequence[dict[int, list[Move]]]) -> list[Label]:
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


def _backward(layers: Sequence[dict[int, list[Move]]], limit: int | None) -> list[dict[int, Rest]]:
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


def _least(frontier: Frontier) -> int:
    """No chain pays less in this slot: the cheapest group, with all that the rules which end here may take off."""
    gifts = {bit: rule.cost for bit, rule in frontier.effects.items() if rule.cost < 0 and not rule.forbids}
    return min(
        (g.cost + sum(points for bit, points in gifts.items() if g.matches & bit) for g in frontier.groups),
        default=0,
    )


def contenders(frontier: Frontier, k: int, timed: bool) -> Levels:
    """The options that can be in one of the k best chains at all.

    An option stands in for another where it is cheaper (or as cheap and earlier), and no slower where time counts;
    where it lies in no set that the other avoids, of rules that forbid or cost; and in each that the other lies in
    of rules that give points. Whatever chain the other is in, it is then in a better one. One for which k others
    stand in can go.
    """
    everything = union(frontier.levels.values())
    if everything.bit_count() <= k:
        return frontier.levels
    harms = {mask for mask, rule in frontier.rules if rule.forbids or rule.cost > 0 or (timed and rule.ms > 0)}
    helps = {mask for mask, rule in frontier.rules if rule.cost < 0 and not rule.forbids}
    by_cost = gathered((cost, members) for (cost, _), members in frontier.levels.items())
    beaten = [everything] + [0] * k
    kept = 0
    for _, members in sorted(by_cost.items()):
        rest = members & ~beaten[k]
        while rest:
            option = rest & -rest
            kept |= option
            worse = _no_faster(frontier.levels, option) if timed else everything
            for mask in harms:
                if mask & option:
                    worse &= mask
            for mask in helps:
                if not mask & option:
                    worse &= ~mask
            for count in range(k, 0, -1):
                beaten[count] |= beaten[count - 1] & worse
            rest &= ~option & ~beaten[k]
    return {level: here for level, members in frontier.levels.items() if (here := members & kept)}


def _no_faster(levels: Levels, option: int) -> int:
    """The options that take at least as long as `option`."""
    own = next(ms for (_, ms), members in levels.items() if members & option)
    return union(members for (_, ms), members in levels.items() if ms >= own)
