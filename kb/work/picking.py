"""What to take from the shelf for a job: first expired, first out, of lots that may be used on the day of the work.

What other jobs have reserved is left for them. A lot that doesn't reach is finished and the next is begun; what no
lot covers is short, and is to be ordered.

>>> from kb.stock.lots import Lot
>>> lots = [Lot("A", "x", Decimal(40), "g", "2027-01-10", expires="2027-06-01"),
...         Lot("B", "x", Decimal(40), "g", "2027-01-10", expires="2027-04-01")]
>>> shelf = Shelf({lot.lot: lot for lot in lots})
>>> found = pick([Need("x", "g", Decimal(50))], shelf, lambda item: {}, "2027-03-01")
>>> [(take.lot, str(take.quantity)) for take in found.lines[0].takes], str(found.lines[0].short)
([('B', '40'), ('A', '10')], '0')
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import ROUND_CEILING, Decimal
from typing import NamedTuple

from kb.quantities.estimate import Estimate
from kb.quantities.layout import timeline
from kb.stock.amounts import convert, unit_named
from kb.stock.flags import FactsOf, Judged, first_out, judged
from kb.stock.fold import Shelf
from kb.stock.when import as_date

NOTHING = Decimal(0)


class Need(NamedTuple):
    """So much of an item; `pack_size` in the same unit, None where it isn't known."""

    item: str
    unit: str
    amount: Decimal
    pack_size: Decimal | None = None


class Take(NamedTuple):
    """So much from one lot, in the unit of the need. `ends`: its last day is before the work is done."""

    lot: str
    quantity: Decimal
    usable_until: str | None
    location: str
    ends: bool


class PassedOver(NamedTuple):
    """A lot of the item that isn't taken, and why."""

    lot: str
    reason: str


@dataclass(frozen=True)
class PickLine:
    """One item: where it comes from, what is short, the packs that would cover that, and the lots passed over."""

    need: Need
    takes: tuple[Take, ...]
    short: Decimal
    reorder_packs: int | None
    passed_over: tuple[PassedOver, ...]


@dataclass(frozen=True)
class Picked:
    """The answer of `pick`, for the day `on`."""

    on: str
    lines: tuple[PickLine, ...]

    @property
    def short(self) -> bool:
        return any(line.short for line in self.lines)

    @property
    def draws(self) -> list[tuple[str, Decimal, str]]:
        """Lot, amount and unit of everything that is taken."""
        return [(take.lot, take.quantity, line.need.unit) for line in self.lines for take in line.takes]


def needs_of(estimate: Estimate) -> list[Need]:
    """What an estimate asks for, in the units of the shelf."""
    return [
        Need(
            item=line.entry.id,
            unit=unit_named(line.unit),
            amount=_exact(line.gross),
            pack_size=None if line.pack_size is None else _exact(line.pack_size),
        )
        for line in estimate.lines
    ]


def pick_for(
    work: Estimate,
    shelf: Shelf,
    facts_of: FactsOf,
    on: str,
    reserved: Mapping[str, tuple[Decimal, str]] | None = None,
) -> Picked:
    """What to take for the work of an estimate that begins on the day `on`, and lasts as long as its schedule says."""
    ready = timeline(work.plan, work.chain, work.installations.attempts, start=datetime.fromisoformat(on)).ready_at
    return pick(needs_of(work), shelf, facts_of, on, reserved, ready.date().isoformat() if ready else None)


def _exact(number: float) -> Decimal:
    return Decimal(str(round(number, 6)))


def pick(
    needs: Iterable[Need],
    shelf: Shelf,
    facts_of: FactsOf,
    on: str,
    reserved: Mapping[str, tuple[Decimal, str]] | None = None,
    through: str | None = None,
) -> Picked:
    """What to take for `needs` on the day `on`; `through` is the last day of the work, where it is known.

    `reserved` says how much of a lot, in which unit, is kept for other work.
    """
    by_item: dict[str, list[Judged]] = {}
    for one in judged(shelf, facts_of, on):
        by_item.setdefault(one.lot.item, []).append(one)
    lines = (_line(need, by_item.get(need.item, ()), reserved or {}, through) for need in needs)
    return Picked(on, tuple(lines))


def _line(
    need: Need, lots: Sequence[Judged], reserved: Mapping[str, tuple[Decimal, str]], through: str | None
) -> PickLine:
    takes: list[Take] = []
    passed = [
        PassedOver(lot.lot, f"{life.state}: {life.reason}")
        for lot, life in lots
        if not life.usable and life.state != "empty"
    ]
    left = need.amount
    for lot, life in first_out(lots):
        try:
            kept, unit = reserved.get(lot.lot, (NOTHING, lot.unit))
            free = max(NOTHING, convert(lot.quantity, lot.unit, need.unit) - convert(kept, unit, need.unit))
        except ValueError as fault:
            passed.append(PassedOver(lot.lot, f"{fault}: it is not known how much that is"))
            continue
        if kept and free < left:
            passed.append(PassedOver(lot.lot, f"{kept.normalize():f} {unit} of it are reserved for other work"))
        quantity = min(left, free)
        if quantity > 0:
            until = life.usable_until
            ends = until is not None and through is not None and as_date(until) < as_date(through)
            takes.append(Take(lot.lot, quantity, until, lot.location, ends))
            left -= quantity
    packs = int((left / need.pack_size).to_integral_value(ROUND_CEILING)) if need.pack_size else None
    return PickLine(need, tuple(takes), left, packs if left else None, tuple(passed))
