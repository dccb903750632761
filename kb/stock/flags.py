"""What on the shelf needs somebody: what may not be used, what will not be used up, what to order.

The going rate of an item is what was used of it over the last days (practice.toml says how many), and it is
taken from the lots first expired, first out.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import timedelta
from decimal import Decimal
from typing import Any, NamedTuple

from kb.stock.amounts import base_of, convert
from kb.stock.fold import Shelf
from kb.stock.lots import Lot
from kb.stock.practice import figure
from kb.stock.shelf_life import Life, last_moment, life
from kb.stock.when import as_date

#: The known facts of an item, by its id; empty for an item that the catalog doesn't have.
FactsOf = Callable[[str], Mapping[str, Any]]


class Judged(NamedTuple):
    """A lot and what may be said of it on a day."""

    lot: Lot
    life: Life


class LeftOver(NamedTuple):
    """A lot that will not be used up before its last day; amounts in the lot's unit, the rate per day."""

    lot: str
    item: str
    left: Decimal
    unit: str
    rate: Decimal
    usable_until: str


class Reorder(NamedTuple):
    """An item that will run out before an order made later would arrive; amounts in `unit`."""

    item: str
    usable: Decimal
    unit: str
    rate: Decimal
    runs_out: str
    lead_days: int
    order_by: str


class Low(NamedTuple):
    """An item of which less is usable than the lab wants to be there; amounts in `unit`.

    `others`: lots of it that may be used, in units that don't convert, and so aren't counted.
    """

    item: str
    usable: Decimal
    unit: str
    minimum: Decimal
    lead_days: int
    others: tuple[str, ...]


class OutOfDate(NamedTuple):
    """A lot that a planned job may count on today, and that may not be used on its day."""

    lot: str
    item: str
    day: str
    reason: str
    others: int


class Flags(NamedTuple):
    """The answer of `stock flag`, as of the day `on`."""

    on: str
    lots: list[Judged]
    left_over: list[LeftOver]
    reorder: list[Reorder]
    planned: list[OutOfDate]
    low: list[Low]

    @property
    def barred(self) -> bool:
        """Whether a lot that isn't empty must not be used."""
        return any(one.life.barred for one in self.lots)


def flags(
    shelf: Shelf,
    facts_of: FactsOf,
    on: str,
    within_days: int | None = None,
    lead_days: Mapping[str, int] | None = None,
    planned: Mapping[str, str] | None = None,
    minimums: Mapping[str, tuple[Decimal, str]] | None = None,
) -> Flags:
    """Give all that needs somebody on the day `on`; `planned` is when a job last needs each of its items.

    `minimums` is the least of each item that the lab wants to be there, with its unit.
    """
    lots = judged(shelf, facts_of, on, within_days)
    going = rates(shelf, on)
    left, days_gone = left_over(lots, going, on)
    order = reorders(lots, going, days_gone, on, lead_days or {})
    late = out_of_date(shelf, facts_of, planned, on) if planned else []
    return Flags(on, lots, left, order, late, below(lots, minimums or {}, lead_days or {}))


def judged(shelf: Shelf, facts_of: FactsOf, on: str, within_days: int | None = None) -> list[Judged]:
    """Give every lot with its life as of `on`, in the shelf's order."""
    facts = {item: facts_of(item) for item in {lot.item for lot in shelf.lots.values()}}
    return [Judged(lot, life(lot, facts[lot.item], on, within_days)) for lot in shelf.lots.values()]


def first_out(lots: Sequence[Judged]) -> list[Judged]:
    """Sort those that may be used in the order in which to use them: first expired first, then opened, then by name."""
    usable = [one for one in lots if one.life.usable]
    return sorted(usable, key=lambda one: (last_moment(one.life.usable_until), one.lot.opened is None, one.lot.lot))


def rates(shelf: Shelf, on: str) -> dict[tuple[str, str], Decimal]:
    """Tell what was used a day of each item, over the days up to and with `on`, by item and base unit."""
    days = figure("usage", "over_days")
    first = (as_date(on) - timedelta(days=days - 1)).isoformat()
    totals: dict[tuple[str, str], Decimal] = {}
    for lot in shelf.lots.values():
        base, factor = base_of(lot.unit)
        for day, amount in lot.used:
            if first <= day <= on[:10]:
                totals[lot.item, base] = totals.get((lot.item, base), Decimal(0)) + Decimal(amount) * factor
    return {key: total / days for key, total in totals.items()}


def left_over(
    lots: Sequence[Judged], going: Mapping[tuple[str, str], Decimal], on: str
) -> tuple[list[LeftOver], dict[tuple[str, str], Decimal]]:
    """Give the lots that will not be used up in time, and after how many days each used item has run out."""
    left: list[LeftOver] = []
    days_gone: dict[tuple[str, str], Decimal] = {key: Decimal(0) for key, rate in going.items() if rate}
    for lot, its_life in first_out(lots):
        base, factor = base_of(lot.unit)
        key = (lot.item, base)
        until = its_life.usable_until
        days = None if until is None else Decimal((as_date(until) - as_date(on)).days + 1)
        if key not in days_gone:
            if until is not None and its_life.state == "expires-soon":
                left.append(LeftOver(lot.lot, lot.item, lot.quantity, lot.unit, Decimal(0), until))
            continue
        rate, begun = going[key] / factor, days_gone[key]
        done = begun + lot.quantity / rate
        if days is not None and until is not None and done > days:
            over = lot.quantity - rate * max(Decimal(0), days - begun)
            left.append(LeftOver(lot.lot, lot.item, over, lot.unit, rate, until))
            done = max(begun, days)
        days_gone[key] = done
    return left, days_gone


def reorders(
    lots: Sequence[Judged],
    going: Mapping[tuple[str, str], Decimal],
    days_gone: Mapping[tuple[str, str], Decimal],
    on: str,
    lead_days: Mapping[str, int],
) -> list[Reorder]:
    """Give the items to order on `on`, so that new stock is there when the usable stock has run out."""
    usual = figure("reorder", "lead_days")
    found = []
    for (item, unit), days in sorted(days_gone.items()):
        lead = lead_days.get(item, usual)
        runs_out = as_date(on) + timedelta(days=int(days))
        order_by = runs_out - timedelta(days=lead)
        if order_by > as_date(on):
            continue
        usable = sum((_in_base(one.lot, item, unit) for one in lots if one.life.usable), Decimal(0))
        dates = (runs_out.isoformat(), lead, order_by.isoformat())
        found.append(Reorder(item, usable, unit, going[item, unit], *dates))
    return found


def below(
    lots: Sequence[Judged], minimums: Mapping[str, tuple[Decimal, str]], lead_days: Mapping[str, int]
) -> list[Low]:
    """Give the items of which less may be used than is to be there; what there is none of counts too."""
    found = []
    for item, (minimum, unit) in sorted(minimums.items()):
        usable, others = Decimal(0), []
        for lot, its_life in lots:
            if lot.item == item and its_life.usable:
                try:
                    usable += convert(lot.quantity, lot.unit, unit)
                except ValueError:
                    others.append(lot.lot)
        if usable < minimum:
            lead = lead_days.get(item, figure("reorder", "lead_days"))
            found.append(Low(item, usable, unit, minimum, lead, tuple(others)))
    return found


def out_of_date(shelf: Shelf, facts_of: FactsOf, needs: Mapping[str, str], on: str) -> list[OutOfDate]:
    """Give the lots that may be used on `on` and not on the day on which the last of their item is needed.

    `others` is how many lots of the item may still be used on that day.
    """
    now = {one.lot.lot for one in judged(shelf, facts_of, on) if one.life.usable}
    then = [
        Judged(lot, life(lot, facts_of(lot.item), needs[lot.item])) for lot in shelf.lots.values() if lot.item in needs
    ]
    good = [one.lot.item for one in then if one.life.usable]
    return [
        OutOfDate(lot.lot, lot.item, needs[lot.item], its_life.reason, good.count(lot.item))
        for lot, its_life in then
        if lot.lot in now and not its_life.usable
    ]


def _in_base(lot: Lot, item: str, unit: str) -> Decimal:
    base, factor = base_of(lot.unit)
    return lot.quantity * factor if (lot.item, base) == (item, unit) else Decimal(0)
