"""Which options have which value of a fact: bit masks, worked out once when the knowledge is compiled.

An option is an item, or an adhesive with one of its cures. Bit n stands for the n-th option of a kind, counted
from 1 in catalog order; bit 0 is left for an empty slot.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import cache

from kb.rules.clauses import Facts, Value
from kb.rules.roles import CHAIN_KINDS, kinds_of

#: Hands-on minutes of an item, beside its stage's own.
HANDS = "minutes"
#: By kind, how hot the part gets in its cure [degC].
HEAT = {"adhesive": "cure.hottest_c", "coating": "coating.cure_temperature_c"}
#: (of the cure?, fact) -> value -> mask; the value None stands for not known.
Index = dict[tuple[bool, str], dict[Value, int]]


def option_facts(kind: str, items: Sequence[Facts]) -> tuple[Sequence[Facts], Sequence[Facts]]:
    """Give the item's facts of each option of a kind, and its cure's, in order.

    >>> option_facts("adhesive", [{"id": "a", "schedules": ({"id": "warm"}, {"id": "hot"})}])[1][1]
    {'id': 'hot'}
    """
    if kind != "adhesive":
        return items, ()
    return (
        [facts for facts in items for _ in facts["schedules"]],
        [cure for facts in items for cure in facts["schedules"]],
    )


def masks_of(options: Sequence[Facts], fact: str) -> dict[Value, int]:
    """Group the options by their value of one fact.

    >>> masks_of([{"hue": "red"}, {}, {"hue": "red"}], "hue")
    {'red': 10, None: 4}
    """
    column = [facts.get(fact) for facts in options]
    codes = {value: number for number, value in enumerate(dict.fromkeys(column))}
    if len(codes) > 256:
        positions: dict[Value, list[int]] = {value: [] for value in codes}
        for position, value in enumerate(column, start=1):
            positions[value].append(position)
        return {value: mask_of(where, len(column) + 1) for value, where in positions.items()}
    # As text in base two, the last option first: for few values the quickest way to masks of very many bits.
    column.reverse()
    coded = bytes(map(codes.__getitem__, column))
    return {value: int(coded.translate(_only(code)) + b"0", 2) for value, code in codes.items()}


@cache
def _only(code: int) -> bytes:
    """Make the table that turns `code` into "1" and every other byte into "0"."""
    return bytes(b"1"[0] if byte == code else b"0"[0] for byte in range(256))


def mask_of(positions: Iterable[int], size: int) -> int:
    """Mark some of `size` positions, in time that grows with `size` and not with its square.

    >>> bin(mask_of([0, 3], 4))
    '0b1001'
    """
    bits = bytearray(size // 8 + 1)
    for position in positions:
        bits[position >> 3] |= 1 << (position & 7)
    return int.from_bytes(bits, "little")


def index_of(items: Mapping[str, Sequence[Facts]], read_paths: Iterable[str]) -> dict[str, Index]:
    """Make, for each kind, the masks of every fact that is read of it.

    `items` holds the facts of each kind's items, `read_paths` what rules, steps and the ranking read.
    """
    paths = [path.partition(".") for path in dict.fromkeys(read_paths)]
    read = [(role, fact) for role, _, fact in paths if fact != "present"]
    found: dict[str, Index] = {}
    for kind in CHAIN_KINDS:
        wanted = [(False, fact) for fact in ("hazards", "basis", HANDS)]
        for role, fact in read:
            if kind in kinds_of(role):
                wanted.append((role == "cure", fact))
        options = option_facts(kind, items.get(kind, ()))
        found[kind] = {(cure, fact): masks_of(options[cure], fact) for cure, fact in dict.fromkeys(wanted)}
    return found
