"""What to buy for a job: what it may take at most, less what the shelf has for the hour of its use, in whole packs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import timedelta
from decimal import ROUND_CEILING, Decimal
from typing import NamedTuple

from kb.quantities.estimate import Estimate, Line
from kb.stock.amounts import convert
from kb.stock.flags import FactsOf
from kb.stock.fold import Shelf
from kb.stock.practice import figure
from kb.stock.products import Product
from kb.stock.when import as_date
from kb.work.picking import Need, needs_on, pick


class Order(NamedTuple):
    """So many packs of an item; `packs` None where nobody knows how it is packed.

    `needed` is what to bring, `low` and `high` what nine and one of ten such days take more than; `shelf` is what lots
    give that may be used when it is used. `order_by` is the last day on which an order arrives in time.
    """

    line: Line
    unit: str
    needed: Decimal
    low: float
    high: float
    shelf: Decimal
    lacking: Decimal
    pack_size: Decimal | None
    packs: int | None
    gtin: str
    lead_days: int
    first_used: str
    order_by: str


class Ordered(NamedTuple):
    """Every item of a job whose work begins on the day `on`, with what is to be bought of it."""

    on: str
    rows: tuple[Order, ...]

    @property
    def to_buy(self) -> list[Order]:
        """What the shelf lacks."""
        return [row for row in self.rows if row.lacking]


def order_for(
    work: Estimate,
    shelf: Shelf,
    facts_of: FactsOf,
    on: str,
    reserved: Mapping[str, tuple[Decimal, str]],
    products: Iterable[Product],
) -> Ordered:
    """What to buy for the work of an estimate that begins on the day `on`; what others have reserved stays theirs."""
    known = list(products)
    asked = zip(needs_on(work, on), work.lines, strict=True)
    needs = [need._replace(amount=Decimal(str(line.bring))) for need, line in asked]
    found = pick(needs, shelf, facts_of, on, reserved)
    rows = (_order(line, got.need, got.short, on, known) for line, got in zip(work.lines, found.lines, strict=True))
    return Ordered(on, tuple(rows))


def _order(line: Line, need: Need, lacking: Decimal, on: str, products: Iterable[Product]) -> Order:
    size, gtin, lead = _pack(need, lacking, products)
    first = need.used[0][0][:10] if need.used else on
    return Order(
        line=line,
        unit=need.unit,
        needed=need.amount,
        low=line.range[0],
        high=line.range[1],
        shelf=need.amount - lacking,
        lacking=lacking,
        pack_size=size,
        packs=None if size is None else _packs(lacking, size),
        gtin=gtin,
        lead_days=lead,
        first_used=first,
        order_by=(as_date(first) - timedelta(days=lead)).isoformat(),
    )


def _packs(lacking: Decimal, size: Decimal) -> int:
    return int((lacking / size).to_integral_value(ROUND_CEILING))


def _pack(need: Need, lacking: Decimal, products: Iterable[Product]) -> tuple[Decimal | None, str, int]:
    """The pack that the lab buys, its number and delivery: the one that leaves least over; else the usual one."""
    usual = int(figure("reorder", "lead_days"))
    own: list[tuple[Decimal, int, Decimal, str, int]] = []
    for product in products:
        if product.item != need.item or not product.quantity:
            continue
        try:
            size = convert(product.quantity, product.unit, need.unit)
        except ValueError:
            continue
        packs = _packs(lacking, size)
        lead = usual if product.lead_days is None else product.lead_days
        own.append((packs * size, packs, size, product.gtin, lead))
    if own:
        _, _, size, gtin, lead = min(own)
        return size, gtin, lead
    return need.pack_size, "", usual
