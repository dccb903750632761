"""The slots of a chain, and the ways in which a rule's roles can stand on them.

>>> [{role: NAMES[slot] for role, slot in b.slots.items()} for b in bindings(frozenset({"over", "under"}))]
[{'over': 'coating_2', 'under': 'coating_1'}, {'over': 'coating_3', 'under': 'coating_2'}]
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from itertools import product
from typing import NamedTuple

from kb.rules.roles import SLOT_ROLES, SLOTS

#: Slots by position.
NAMES = tuple(SLOTS)
INDEX = {slot: i for i, slot in enumerate(SLOTS)}
COATS = tuple(INDEX[slot] for slot in SLOT_ROLES["coating"])


class Binding(NamedTuple):
    """One way in which roles stand on slots, and the slots that must then be empty (above the outermost coat)."""

    slots: Mapping[str, int]
    empty: tuple[int, ...] = ()
    #: The other way round: the roles that stand on each slot.
    roles: Mapping[int, tuple[str, ...]] = {}


@cache
def bindings(roles: frozenset[str]) -> tuple[Binding, ...]:
    """List the ways in which the slot roles among `roles` can stand on slots, in a stable order; one for none."""
    choices: list[list[tuple[dict[str, int], tuple[int, ...]]]] = []
    for role in sorted(roles & set(SLOT_ROLES)):
        if role in ("under", "over"):
            continue
        ways = []
        for slot in SLOT_ROLES[role]:
            index = INDEX[slot]
            above = tuple(c for c in COATS if c == index + 1) if role == "outer" else ()
            ways.append(({role: index}, above))
        choices.append(ways)
    if roles & {"under", "over"}:
        choices.append([({"over": upper, "under": upper - 1}, ()) for upper in COATS[1:]])
    ways_to_stand = []
    for way in product(*choices):
        slots: dict[str, int] = {}
        empty: tuple[int, ...] = ()
        for placed, above in way:
            slots |= placed
            empty += above
        if not set(empty) & set(slots.values()):
            standing: dict[int, tuple[str, ...]] = {}
            for role, index in slots.items():
                standing[index] = (*standing.get(index, ()), role)
            ways_to_stand.append(Binding(slots, empty, standing))
    return tuple(ways_to_stand)
