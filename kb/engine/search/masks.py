"""Sets of options as bit masks: bit n stands for the option at position n."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TypeVar

K = TypeVar("K")


def union(masks: Iterable[int]) -> int:
    """Unite masks: every bit that any of them has."""
    united = 0
    for mask in masks:
        united |= mask
    return united


def merged(pairs: Iterable[tuple[K, int]]) -> dict[K, int]:
    """Unite the masks under one key; empty ones are left out.

    >>> merged([("a", 1), ("b", 0), ("a", 4)])
    {'a': 5}
    """
    by_key: dict[K, int] = {}
    for key, mask in pairs:
        if mask:
            by_key[key] = by_key.get(key, 0) | mask
    return by_key


def partition(members: int, sets: Iterable[tuple[int, int]]) -> dict[int, int]:
    """Split `members` by the `sets` that they lie in: those sets' bits -> members. A set is (mask, bits).

    >>> partition(0b111, [(0b011, 1), (0b110, 2)])
    {3: 2, 1: 1, 2: 4}
    """
    parts = {0: members}
    for mask, bits in sets:
        split: dict[int, int] = {}
        for matches, part in parts.items():
            inside = part & mask
            if inside:
                split[matches | bits] = inside
            if inside != part:
                split[matches] = part ^ inside
        parts = split
    return parts


def bits_of(mask: int) -> Iterator[int]:
    """Give each bit of `mask` by itself, lowest first.

    >>> list(bits_of(0b1010))
    [2, 8]
    """
    while mask:
        bit = mask & -mask
        yield bit
        mask ^= bit


def positions_of(mask: int) -> Iterator[int]:
    """Give the position of each bit of `mask`, lowest first.

    >>> list(positions_of(0b1010))
    [1, 3]
    """
    return (bit.bit_length() - 1 for bit in bits_of(mask))
