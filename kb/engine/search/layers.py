"""The walk over the slots on which the searches run: what is forbidden, and what costs, slot after slot.

A rule ("conjunction") names for some slots a set of options, as a bit mask; it holds where every one of these
slots is filled from its set, and then costs points and time, or forbids the combination. After some slots all
that matters of the choices so far is which rules that reach further are still alive: again a bit mask, the state.
Options that no rule can tell apart are one group, so work grows with the groups and not with the options.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple, TypeVar

K = TypeVar("K")

#: The options of a slot by what each costs: (points, milliseconds) -> mask.
Levels = Mapping[tuple[int, int], int]
#: Where a group leads from a state: (group, next state, points, milliseconds), the last two of the rules that end.
Move = tuple["Group", int, int, int]


class Conjunction(NamedTuple):
    """Forbids, or costs points and milliseconds, where each slot of `sets` is filled from its mask."""

    sets: Mapping[int, int]
    cost: int = 0
    ms: int = 0
    forbids: bool = False


class Problem(NamedTuple):
    """What is left in each slot, the rules that join slots, and the time that a chain may take."""

    options: tuple[Levels, ...]
    rules: tuple[Conjunction, ...]
    limit_ms: int | None = None

    def only(self, masks: Sequence[int]) -> Problem:
        """The problem with those options alone that lie in the mask of their slot."""
        options = (
            gathered((level, members & mask) for level, members in levels.items())
            for levels, mask in zip(self.options, masks, strict=True)
        )
        return self._replace(options=tuple(options))


class Group(NamedTuple):
    """Options of one slot that the rules treat alike: the rules that they match, and their levels, cheapest first."""

    matches: int
    cost: int
    ms: int
    levels: tuple[tuple[int, int, int], ...]


class Frontier:
    """One slot: its options, and which rules start, go on and end here, as bits."""

    def __init__(self, levels: Levels) -> None:
        self.levels = levels
        self.groups: list[Group] = []
        self.sets: dict[int, int] = {}
        self.starts = self.touched = self.ends = 0
        self.effects: dict[int, Conjunction] = {}
        self._settled: dict[int, tuple[int, int] | None] = {0: (0, 0)}

    def split(self, kept: int) -> None:
        """Makes the groups of the options in `kept`: all of them, split by the sets that they lie in."""
        self.groups = []
        by_cost = sorted((cost, ms, mask) for (cost, ms), mask in self.levels.items() if mask & kept)
        for matches, part in parts(kept & union(self.levels.values()), self.sets.items()).items():
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

    def moves(self, state: int, groups: Iterable[Group]) -> list[Move]:
        """Where each of `groups` leads from `state`; one that a rule forbids there leads nowhere."""
        state |= self.starts
        passing, ends, settled = ~self.touched, self.ends, self._settled
        found: list[Move] = []
        for group in groups:
            alive = state & (group[0] | passing)
            ended = alive & ends
            effect = settled[ended] if ended in settled else self.effect(ended)
            if effect is not None:
                found.append((group, alive ^ ended, effect[0], effect[1]))
        return found

    def effect(self, ended: int) -> tuple[int, int] | None:
        """Points and milliseconds of the rules of which these bits are the end; None where one forbids."""
        if ended not in self._settled:
            points = ms = 0
            for bit in bits_of(ended):
                rule = self.effects[bit]
                if rule.forbids:
                    self._settled[ended] = None
                    return None
                points += rule.cost
                ms += rule.ms
            self._settled[ended] = points, ms
        return self._settled[ended]


def frontiers(options: Sequence[Levels], rules: Iterable[Conjunction]) -> list[Frontier]:
    """The slots in order, each with the rules that concern it; not split into groups yet."""
    walk = [Frontier(levels) for levels in options]
    for number, rule in enumerate(rules):
        bit = 1 << number
        first, last = walk[min(rule.sets)], walk[max(rule.sets)]
        first.starts |= bit
        last.ends |= bit
        last.effects[bit] = rule
        for slot, members in rule.sets.items():
            walk[slot].touched |= bit
            walk[slot].sets[members] = walk[slot].sets.get(members, 0) | bit
    return walk


def parts(members: int, sets: Iterable[tuple[int, int]]) -> dict[int, int]:
    """`members` split by the `sets` that they lie in: those sets' bits -> members. A set is (mask, bits).

    >>> parts(0b111, [(0b011, 1), (0b110, 2)])
    {3: 2, 1: 1, 2: 4}
    """
    found = {0: members}
    for mask, bits in sets:
        split: dict[int, int] = {}
        for matches, part in found.items():
            inside = part & mask
            if inside:
                split[matches | bits] = inside
            if inside != part:
                split[matches] = part ^ inside
        found = split
    return found


def union(masks: Iterable[int]) -> int:
    """Every bit that any of `masks` has."""
    found = 0
    for mask in masks:
        found |= mask
    return found


def gathered(pairs: Iterable[tuple[K, int]]) -> dict[K, int]:
    """Masks under one key taken together; empty ones are left out.

    >>> gathered([("a", 1), ("b", 0), ("a", 4)])
    {'a': 5}
    """
    found: dict[K, int] = {}
    for key, mask in pairs:
        if mask:
            found[key] = found.get(key, 0) | mask
    return found


def bits_of(mask: int) -> Iterator[int]:
    """Each bit of `mask` by itself, lowest first.

    >>> list(bits_of(0b1010))
    [2, 8]
    """
    while mask:
        bit = mask & -mask
        yield bit
        mask ^= bit


def positions_of(mask: int) -> Iterator[int]:
    """The position of each bit of `mask`, lowest first.

    >>> list(positions_of(0b1010))
    [1, 3]
    """
    return (bit.bit_length() - 1 for bit in bits_of(mask))
