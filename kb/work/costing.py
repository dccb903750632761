"""What a job's materials cost by the lab's own prices: what is used, what whole packs cost, and a good gauge's share.

A line of which no price is known is named, and stands in no sum: its cost is unknown, and never nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal
from typing import NamedTuple

from kb.quantities.cautions import PACK_NOT_KNOWN, of_packs
from kb.quantities.estimate import Estimate, Line
from kb.stock.amounts import unit_named
from kb.stock.supplies import Supply, pack_in

_CENT = Decimal("0.01")


class Cost(NamedTuple):
    """What one line costs, not rounded: what is used of it, and its packs; None where no price is known."""

    line: Line
    price: Decimal | None
    used: Decimal | None
    bought: Decimal | None


class Costs(NamedTuple):
    """What a job costs in the lab's currency; sums are of what is known."""

    currency: str
    lines: tuple[Cost, ...]
    good: int

    @property
    def known(self) -> list[Cost]:
        return [one for one in self.lines if one.price is not None]

    @property
    def unknown(self) -> list[Line]:
        """The lines of which no price is known."""
        return [one.line for one in self.lines if one.price is None]

    @property
    def used(self) -> Decimal:
        return sum((one.used for one in self.lines if one.used is not None), Decimal(0))

    @property
    def bought(self) -> Decimal:
        return sum((one.bought for one in self.lines if one.bought is not None), Decimal(0))

    @property
    def per_gauge(self) -> Decimal:
        """What is used, by the good gauges that are wanted."""
        return self.used / self.good


def in_own_packs(work: Estimate, supplies: Mapping[str, Supply]) -> Estimate:
    """Give the estimate with the packs that the lab orders, where it has said what they hold."""
    lines = tuple(_packed(line, pack_in(supplies.get(line.entry.id), unit_named(line.unit))) for line in work.lines)
    others = (remark for remark in work.remarks if remark.rule != PACK_NOT_KNOWN)
    unpacked = of_packs([line.entry for line in lines if line.pack_size is None])
    return replace(work, lines=lines, remarks=(*others, *unpacked))


def _packed(line: Line, pack: Decimal | None) -> Line:
    if pack is None:
        return line
    return replace(line, pack_size=float(pack), packs=whole_packs(Decimal(str(line.bring)), pack))


def costs_of(work: Estimate, supplies: Mapping[str, Supply], currency: str) -> Costs:
    """Tell what the lines of an estimate cost that is in the lab's own packs."""
    lines = tuple(_cost(line, supplies.get(line.entry.id)) for line in work.lines)
    return Costs(currency, lines, work.installations.good_needed)


def whole_packs(amount: Decimal, pack: Decimal) -> int:
    """Give the fewest packs that hold an amount.

    >>> whole_packs(Decimal("50.6"), Decimal(100)), whole_packs(Decimal(200), Decimal(100))
    (1, 2)
    """
    return int((amount / pack).to_integral_value(ROUND_CEILING))


def rounded(money: Decimal) -> Decimal:
    """Money to the hundredth, halves upwards.

    >>> rounded(Decimal("2.345")), rounded(Decimal("7"))
    (Decimal('2.35'), Decimal('7.00'))
    """
    return money.quantize(_CENT, ROUND_HALF_UP)


def _cost(line: Line, supply: Supply | None) -> Cost:
    pack = pack_in(supply, unit_named(line.unit))
    if supply is None or supply.price is None or pack is None:
        return Cost(line, None, None, None)
    packs = whole_packs(Decimal(str(line.bring)), pack)
    return Cost(line, supply.price, Decimal(str(line.gross)) / pack * supply.price, packs * supply.price)
