"""The k best ways to fill all slots under weighted rules: exact, and ignorant of what the slots mean.

A rule ("conjunction") names for some slots a set of options; it holds where every one of these slots is
filled from its set, and then costs points and minutes, or forbids the combination. Every table of a
chain is of this form, so one small algorithm does.

Dynamic programming runs over the slots in order. After slot i all that matters of the choices so far is
which of the rules that reach beyond i are still alive: a bit mask. Partial chains with the same mask
share their future, so only the k best of them are kept. Options that no rule can tell apart are one group.

Chains are ordered by cost, then by the positions of their options in slot order: the same on every run.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

#: Position of an option in its slot for each slot so far.
Picks = tuple[int, ...]
#: Cost, picks, minutes: compared in that order, so ties in cost go to the earlier picks.
Label = tuple[int, Picks, float]


@dataclass(frozen=True, slots=True)
class Conjunction:
    """`sets[slot]` holds a bit mask of options; `forbids`, or costs points and minutes, where all hold."""

    sets: dict[int, int]
    cost: int = 0
    minutes: float = 0.0
    forbids: bool = False


@dataclass(frozen=True, slots=True)
class Problem:
    """For each slot the (position, cost, minutes) of each option left, and the rules that join slots."""

    options: tuple[tuple[tuple[int, int, float], ...], ...]
    rules: tuple[Conjunction, ...]
    limit_min: float | None = None


@dataclass(frozen=True, slots=True)
class _Group:
    """Options of one slot that every joining rule treats alike, cheapest first."""

    matches: int
    members: tuple[tuple[int, int, float], ...]
    least_min: float


@dataclass
class _Frontier:
    """What the pass over one slot needs: its groups, and which rules start, go on and end here."""

    groups: list[_Group]
    starts: int = 0
    touches: int = 0
    ends: int = 0
    effects: dict[int, tuple[int, float, bool]] = field(default_factory=dict)
    settled: dict[int, tuple[int, float] | None] = field(default_factory=dict)

    def step(self, alive: int, group: _Group) -> tuple[int, int, float] | None:
        """The mask after one of `group`, with points and minutes of the rules that end here; None if forbidden."""
        alive = (alive | self.starts) & (group.matches | ~self.touches)
        ended = alive & self.ends
        if not ended:
            return alive, 0, 0.0
        effect = self.settled.get(ended, _UNSEEN)
        if effect is _UNSEEN:
            effect = self.settled[ended] = self._effect(ended)
        return None if effect is None else (alive & ~self.ends, *effect)

    def _effect(self, ended: int) -> tuple[int, float] | None:
        cost, minutes = 0, 0.0
        while ended:
            bit = ended & -ended
            points, wait, forbids = self.effects[bit]
            if forbids:
                return None
            cost += points
            minutes += wait
            ended ^= bit
        return cost, minutes


_UNSEEN: tuple[int, float] = (0, -1.0)


def frontiers(problem: Problem) -> list[_Frontier]:
    """The problem as a walk over the slots. Groups are in order of their first member."""
    found = [_Frontier([]) for _ in problem.options]
    matches: list[dict[int, int]] = [{position: 0 for position, _, _ in slot} for slot in problem.options]
    for number, rule in enumerate(problem.rules):
        bit = 1 << number
        first, last = min(rule.sets), max(rule.sets)
        found[first].starts |= bit
        found[last].ends |= bit
        found[last].effects[bit] = (rule.cost, rule.minutes, rule.forbids)
        for slot, mask in rule.sets.items():
            found[slot].touches |= bit
            here = matches[slot]
            for position in here:
                if mask >> position & 1:
                    here[position] |= bit
    for slot, options in enumerate(problem.options):
        alike: dict[int, list[tuple[int, int, float]]] = {}
        for option in options:
            alike.setdefault(matches[slot][option[0]], []).append(option)
        found[slot].groups = [
            _Group(mask, tuple(sorted(members, key=lambda o: (o[1], o[0]))), min(o[2] for o in members))
            for mask, members in alike.items()
        ]
    return found


def k_best(problem: Problem, k: int) -> list[Label]:
    """The k cheapest complete labels, in order; fewer where fewer exist.

    With a time limit the plain k best are taken if all keep it; else labels are kept by cost and minutes
    together, so that nothing that could still keep the limit is lost.
    """
    walk = frontiers(problem)
    best = _walk(walk, k, None, [0.0] * (len(walk) + 1))
    limit = problem.limit_min
    if limit is None or all(label[2] <= limit for label in best):
        return best
    rest = [0.0]
    for frontier in reversed(walk):
        rest.append(rest[-1] + min((g.least_min for g in frontier.groups), default=0.0))
    return _walk(walk, k, limit, rest[::-1])


def _walk(walk: Sequence[_Frontier], k: int, limit: float | None, rest: Sequence[float]) -> list[Label]:
    states: dict[int, list[Label]] = {0: [(0, (), 0.0)]}
    for slot, frontier in enumerate(walk):
        found: dict[int, list[Label]] = {}
        for alive, labels in states.items():
            for group in frontier.groups:
                step = frontier.step(alive, group)
                if step is not None:
                    found.setdefault(step[0], []).extend(_grown(labels, group, step[1], step[2], k, limit))
        least = rest[slot + 1]
        states = {alive: _kept(labels, k, None if limit is None else limit - least) for alive, labels in found.items()}
    return states.get(0, [])[:k]


def _grown(
    labels: Sequence[Label], group: _Group, cost: int, minutes: float, k: int, limit: float | None
) -> Iterator[Label]:
    """Each label with each member of the group; without a limit only those that can be among the k best.

    Labels and members are sorted, so the combination of the i-th and the j-th is behind at least i times j others.
    """
    for i, (points, picks, spent) in enumerate(labels, start=1):
        members = group.members if limit is not None else group.members[: k // i]
        for position, own_cost, own_minutes in members:
            yield points + own_cost + cost, (*picks, position), spent + own_minutes + minutes


def _kept(labels: list[Label], k: int, limit: float | None) -> list[Label]:
    """The k best; under a limit all of which fewer than k others are both no dearer and no slower."""
    labels.sort()
    if limit is None:
        return labels[:k]
    kept: list[Label] = []
    for label in labels:
        if label[2] <= limit and sum(other[2] <= label[2] for other in kept) < k:
            kept.append(label)
    return kept


def fastest(problem: Problem) -> list[dict[int, float]]:
    """For each slot, the minutes of the fastest allowed chain that uses each position.

    A position that no allowed chain uses is left out. The time limit is not applied: who asks compares.
    """
    walk = frontiers(problem)
    forward: list[dict[int, float]] = [{0: 0.0}]
    moves: list[list[tuple[int, _Group, int, float]]] = []
    for frontier in walk:
        after: dict[int, float] = {}
        here: list[tuple[int, _Group, int, float]] = []
        for alive, spent in forward[-1].items():
            for group in frontier.groups:
                step = frontier.step(alive, group)
                if step is not None:
                    here.append((alive, group, step[0], step[2]))
                    minutes = spent + group.least_min + step[2]
                    after[step[0]] = min(minutes, after.get(step[0], minutes))
        forward.append(after)
        moves.append(here)
    backward: dict[int, float] = dict.fromkeys(forward[-1], 0.0)
    found: list[dict[int, float]] = []
    for slot in range(len(walk) - 1, -1, -1):
        before: dict[int, float] = {}
        good: dict[int, float] = {}
        for alive, group, nxt, wait in moves[slot]:
            if nxt not in backward:
                continue
            rest = backward[nxt] + wait
            before[alive] = min(rest + group.least_min, before.get(alive, rest + group.least_min))
            for position, _, own in group.members:
                minutes = forward[slot][alive] + own + rest
                good[position] = min(minutes, good.get(position, minutes))
        backward = before
        found.append(good)
    return found[::-1]
