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
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from kb.engine.frontier import Frontier, Levels, Move, Problem, bits_of, first_bits, frontiers, gathered, union
from kb.engine.outlook import Outlook

#: Most moves (states times groups) looked at in one slot before states are let go. The shipped knowledge needs a
#: quarter of them; where hundreds of rules are alive in every slot, so many take a quarter of a minute.
MOST_MOVES = 20_000
#: Up to as many, all are looked at.
FEW_MOVES = 800
#: What a first pass looks at, which is only after a cost to start from.
FIRST_MOVES = 100
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
    best = Search(problem, k, most_moves).run()
    if problem.limit_ms is None or all(label.ms <= problem.limit_ms for label in best.labels):
        return best
    return Search(problem, k, most_moves, timed=True).run()


class Search:
    """One search: made, it has the options classified; `run` then looks for chains among the classes.

    `timed`: the limit is kept; else time is only added up.
    """

    def __init__(self, problem: Problem, k: int, most_moves: int = MOST_MOVES, timed: bool = False) -> None:
        self.k, self.most = k, most_moves
        self.limit = problem.limit_ms if timed else None
        self.walk = frontiers(problem.options, problem.rules)
        for frontier in self.walk:
            frontier.levels = contenders(frontier, k, timed)
            frontier.split()

    def run(self) -> Best:
        """Everything at once where that is little; else in passes.

        The k-th chain of a pass costs what the k best don't exceed, so it prunes the next, wider pass.
        """
        everything = self._everything(min(FEW_MOVES, self.most))
        if everything is not None:
            return Best(self._chains(everything))
        outlook = Outlook(self.walk)
        width = min(FIRST_MOVES, self.most)
        found: list[Label] = []
        while True:
            worst = found[-1].cost if len(found) == self.k else None
            layers, bound = self._hopeful(outlook, width, worst)
            found = sorted({*found, *self._chains(layers)})[: self.k]
            if bound is None or width == self.most:
                return Best(found, bound)
            width = min(20 * width, self.most)

    def _everything(self, most: int) -> list[dict[int, list[Move]]] | None:
        """The moves from every state that can be reached, slot after slot; None where they are more than `most`."""
        layers: list[dict[int, list[Move]]] = []
        states = {0: None}
        for frontier in self.walk:
            if len(states) * len(frontier.groups) > most:
                return None
            layers.append({state: frontier.moves(state, frontier.groups) for state in states})
            states = dict.fromkeys(after for moves in layers[-1].values() for _, after, _, _ in moves)
        return layers

    def _hopeful(
        self, outlook: Outlook, most: int, worst: int | None
    ) -> tuple[list[dict[int, list[Move]]], int | None]:
        """The moves that can be part of a chain of cost `worst` or less, at most about `most` in a slot.

        States are taken up by what a chain through them costs at the least; with it, the least of what was left.
        """
        bound: int | None = None
        layers: list[dict[int, list[Move]]] = []
        reached = {0: 0}
        for slot, frontier in enumerate(self.walk):
            states = []
            for state, spent in reached.items():
                rest = outlook.rest(slot, state)
                if rest is not None and (worst is None or spent + sum(rest) <= worst):
                    states.append((spent + sum(rest), spent + rest[1], state, spent))
            layer: dict[int, list[Move]] = {}
            reached = {}
            room = most
            for hope, others, state, spent in sorted(states):
                least = outlook.least[slot]
                wanted = len(least) if worst is None else bisect_right(least, worst - others)
                taken = min(wanted, max(room, 0))
                if taken < wanted:
                    lost = max(hope, others + least[taken])
                    bound = lost if bound is None else min(bound, lost)
                    if not taken:
                        break
                room -= taken
                layer[state] = frontier.moves(state, frontier.groups[:taken])
                for group, after, cost, _ in layer[state]:
                    total = spent + group[1] + cost
                    if after not in reached or total < reached[after]:
                        reached[after] = total
            layers.append(layer)
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
    beaten = [everything] + [0] * k
    kept = 0
    # Options that are neither taken nor beaten.
    waiting = everything
    for _, members in sorted(gathered((cost, members) for (cost, _), members in frontier.levels.items()).items()):
        while rest := members & waiting:
            option = taken = rest & -rest
            worse = _no_faster(frontier.levels, option) if timed else everything
            worse &= waiting
            for mask in harms:
                if mask & option:
                    worse &= mask
            for mask in helps:
                if not mask & option:
                    worse &= ~mask
            alike = worse & rest
            if alike != option:
                # Options of the same cost: all that are no different are taken at once. Between others the place
                # decides, so there this one goes alone.
                twins = next(m for m in frontier.levels.values() if m & option) & alike if timed else alike
                for mask in (*harms, *helps):
                    twins &= mask if mask & option else ~mask
                if twins == alike:
                    taken = first_bits(twins, k - max(n for n in range(k) if beaten[n] & option))
            kept |= taken
            waiting ^= taken
            worse ^= taken
            if worse:
                places = taken.bit_count()
                for count in range(k, 0, -1):
                    beaten[count] |= beaten[max(0, count - places)] & worse
                waiting &= ~beaten[k]
    return {level: here for level, members in frontier.levels.items() if (here := members & kept)}


def _no_faster(levels: Levels, option: int) -> int:
    """The options that take at least as long as `option`."""
    own = next(ms for (_, ms), members in levels.items() if members & option)
    return union(members for (_, ms), members in levels.items() if ms >= own)
