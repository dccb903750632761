"""The slots as layers of a state graph: what is forbidden, and what costs, slot after slot.

After some slots all that matters of the choices so far is which constraints that reach further are still met: their
bits are the state, and two beginnings with the same state can be gone on with alike. Options that no constraint tells
apart are one group, so that work grows with groups and states, not with options and chains.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from kb.engine.search.masks import bits_of, partition, union
from kb.engine.search.problem import Constraint, Levels

#: Where a group leads from a state: (group, next state, points, milliseconds), the last two of constraints that end.
Transition = tuple["Group", int, int, int]
#: For each slot the states before it, with the transitions from each.
Graph = list[dict[int, list[Transition]]]


class Group(NamedTuple):
    """Interchangeable options of one slot: the constraints whose sets hold them, and their levels, cheapest first."""

    matches: int
    cost: int
    ms: int
    levels: tuple[tuple[int, int, int], ...]


class Layer:
    """One slot: its options, and which constraints begin, go on and end here, as bits."""

    def __init__(self, levels: Levels) -> None:
        self.levels = levels
        self.groups: list[Group] = []
        self.sets: dict[int, int] = {}
        self.begins = self.touched = self.ends = 0
        #: Of those that end here, the ones that take points off.
        self.bonuses = 0
        self.ending: dict[int, Constraint] = {}
        self._effects: dict[int, tuple[int, int] | None] = {0: (0, 0)}

    def group(self, admitted: int) -> None:
        """Make the groups of the options that are `admitted`: all of them, split by the sets that they lie in."""
        self.groups = []
        by_cost = sorted((cost, ms, mask) for (cost, ms), mask in self.levels.items() if mask & admitted)
        for matches, part in partition(admitted & union(self.levels.values()), self.sets.items()).items():
            levels = []
            for cost, ms, mask in by_cost:
                here = mask & part
                if here:
                    levels.append((cost, ms, here))
                    part ^= here
                    if not part:
                        break
            if levels:
                self.groups.append(Group(matches, levels[0][0], min(ms for _, ms, _ in levels), tuple(levels)))

    def transitions(self, state: int, groups: Iterable[Group]) -> list[Transition]:
        """Tell where each of `groups` leads from `state`; one that a constraint forbids there leads nowhere."""
        state |= self.begins
        passing, ends, effects = ~self.touched, self.ends, self._effects
        leading: list[Transition] = []
        for group in groups:
            met = state & (group[0] | passing)
            ended = met & ends
            effect = effects[ended] if ended in effects else self.effect(ended)
            if effect is not None:
                leading.append((group, met ^ ended, effect[0], effect[1]))
        return leading

    def effect(self, ended: int) -> tuple[int, int] | None:
        """Sum points and milliseconds of the constraints that end met, given as bits; None where one forbids."""
        if ended not in self._effects:
            met = [self.ending[bit] for bit in bits_of(ended)]
            forbidden = any(constraint.forbids for constraint in met)
            self._effects[ended] = None if forbidden else (sum(c.cost for c in met), sum(c.ms for c in met))
        return self._effects[ended]


def layers_of(options: Sequence[Levels], constraints: Iterable[Constraint]) -> list[Layer]:
    """Lay out the slots in order, each with the constraints that concern it; their options aren't grouped yet."""
    layers = [Layer(levels) for levels in options]
    for number, constraint in enumerate(constraints):
        bit = 1 << number
        first, last = layers[min(constraint.sets)], layers[max(constraint.sets)]
        first.begins |= bit
        last.ends |= bit
        last.ending[bit] = constraint
        if constraint.cost < 0 and not constraint.forbids:
            last.bonuses |= bit
        for slot, members in constraint.sets.items():
            layers[slot].touched |= bit
            layers[slot].sets[members] = layers[slot].sets.get(members, 0) | bit
    return layers


def expanded(layers: Sequence[Layer], most: int) -> Graph | None:
    """Follow the groups from every state that can be reached; None where a layer has more than `most` transitions."""
    graph: Graph = []
    states = {0: None}
    for layer in layers:
        if len(states) * len(layer.groups) > most:
            return None
        graph.append({state: layer.transitions(state, layer.groups) for state in states})
        states = dict.fromkeys(after for transitions in graph[-1].values() for _, after, _, _ in transitions)
    return graph
