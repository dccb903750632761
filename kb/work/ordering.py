"""What to buy for a job: what it may take at most, less what the shelf has for the hour of its use, in whole packs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import timedelta
from decimal import Decimal
from typing import NamedTuple

from kb.quantities.estimate import Estimate, Line
from kb.stock.amounts import convert
from kb.stock.flags import FactsOf
from kb.stock.fold import Shelf
from kb.stock.practice import figure
from kb.stock.products import Product
from kb.stock.supplies import Supply, pack_in
from kb.stock.when import as_date
from kb.work.costing import whole_packs
from kb.work.picking import Need, needs_on, pick


class Order(NamedTuple):
    """So many packs of an item; `packs` None where nobody knows how it is packed.

    `needed` is what to bring, `low` and `high` what nine and one of ten such days take more than; `shelf` is what lots
    give that may be used when it is used. `order_by` is the last day on which an order arrives in time. `price` is that
    of a pack, None where the lab hasn't said it.
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
    price: Decimal | None

    @property
    def cost(self) -> Decimal | None:
        """What its packs cost; None where that isn't known."""
        return None if self.price is None or self.packs is None else self.packs * self.price


class Ordered(NamedTuple):
    """Every item of a job whose work begins on the day `on`, with what is to be bought of it; costs in `currency`."""

    on: str
    rows: tuple[Order, ...]
    currency: str

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
    supplies: Mapping[str, Supply] | None = None,
    currency: str = "",
) -> Ordered:
    """Tell what to buy for an estimate whose work begins on the day `on`; what others have reserved stays theirs."""
    known, own = list(products), supplies or {}
    asked = zip(needs_on(work, on), work.lines, strict=True)
    needs = [need._replace(amount=Decimal(str(line.bring))) for need, line in asked]
    found = pick(needs, shelf, facts_of, on, reserved)
    rows = (
        _order(line, got.need, got.short, on, known, own.get(line.entry.id))
        for line, got in zip(work.lines, found.lines, strict=True)
    )
    return Ordered(on, tuple(rows), currency)


def _order(
    line: Line, need: Need, lacking: Decimal, on: str, products: Iterable[Product], supply: Supply | None
) -> Order:
    size, gtin, lead = _pack(need, lacking, products)
    own = pack_in(supply, need.unit)
    if own is not None:
        # What the lab said of the item itself counts before the product that leaves least over.
        size, gtin = own, gtin if size == own else ""
    if supply is not None and supply.lead_days is not None:
        lead = supply.lead_days
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
        packs=None if size is None else whole_packs(lacking, size),
        gtin=gtin,
        lead_days=lead,
        first_used=first,
        order_by=(as_date(first) - timedelta(days=lead)).isoformat(),
        price=supply.price if supply is not None and own is not None else None,
    )


def _pack(need: Need, lacking: Decimal, products: Iterable[Product]) -> tuple[Decimal | None, str, int]:
    """Give the pack that the lab buys, its number and delivery: the one that leaves least over; else the usual one."""
    usual = int(figure("reorder", "lead_days"))
    own: list[tuple[Decimal, int, Decimal, str, int]] = []
    for product in products:
        if product.item != need.item or not product.quantity:
            continue
        try:
            size = convert(product.quantity, product.unit, need.unit)
        except ValueError:
            continue
        packs = whole_packs(lacking, size)
        lead = usual if product.lead_days is None else product.lead_days
        own.append((packs * size, packs, size, product.gtin, lead))
    if own:
        _, _, size, gtin, lead = min(own)
        return size, gtin, lead
    return need.pack_size, "", usual
