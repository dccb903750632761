"""What each lot gave to installations: as the bench says, or as the estimate reckons; and whether it belongs there."""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from kb.base.errors import BadInput
from kb.quantities.estimate import Estimate
from kb.stock.amounts import amount as exact
from kb.stock.amounts import convert, text
from kb.stock.fold import Shelf, no_such_lot
from kb.stock.lots import Lot
from kb.work.picking import needs_of

#: What the amounts of a record may be off by, from cutting decimals.
_SLIVER = Decimal("0.0001")


def lots_given(words: Iterable[str]) -> dict[str, Decimal | None]:
    """Lots from "A-17,B-2=12.5": the amount that was used of each, in the lot's unit, where it is said."""
    found: dict[str, Decimal | None] = {}
    for piece in (p.strip() for said in words for p in said.split(",") if p.strip()):
        mark, sign, number = piece.partition("=")
        try:
            found[mark.strip()] = amount = exact(number) if sign else None
            if amount is not None and amount <= 0:
                raise ValueError(f"{number} is not more than nothing")
        except ValueError as fault:
            raise BadInput(f"--lots {mark}", str(fault), "such as A-17=12.5") from None
    return found


def draws(
    estimate: Estimate,
    installations: Sequence[Mapping[str, Any]],
    given: Mapping[str, Decimal | None],
    shelf: Shelf,
) -> list[dict[str, str]]:
    """Tell what each lot gave: as given, or else what the estimate reckons for an installation, losses with it.

    Where an installation names several lots of an item, the first is finished before the next. Tools that are used
    again give nothing. BadInput where a lot isn't there, or where no amount is known in the lot's unit.
    """
    kept = {line.entry.id for line in estimate.lines if all(use.reused for use in line.uses)}
    attempts = estimate.installations.attempts
    per = {
        (need.item, need.unit): Decimal(0) if need.item in kept else need.amount / attempts
        for need in needs_of(estimate)
    }
    left = {mark: lot.quantity for mark, lot in shelf.lots.items()}
    taken: dict[str, Decimal] = {mark: amount for mark, amount in given.items() if amount is not None}
    for one in installations:
        by_item: dict[str, list[Lot]] = {}
        for mark in one.get("lots", ()):
            if mark not in shelf.lots:
                raise no_such_lot(mark, shelf)
            if given.get(mark) is None:
                by_item.setdefault(shelf.lots[mark].item, []).append(shelf.lots[mark])
        for item, lots in by_item.items():
            _take(lots, _each(item, lots[0], per), left, taken)
    return [
        {"lot": mark, "quantity": text(_cut(amount, shelf.lots[mark].quantity)), "unit": shelf.lots[mark].unit}
        for mark, amount in taken.items()
        if amount
    ]


def _each(item: str, lot: Lot, per: Mapping[tuple[str, str], Decimal]) -> Decimal:
    """Tell what an installation takes of an item, in the unit of the lot."""
    for (known, unit), amount in per.items():
        if known == item:
            try:
                return convert(amount, unit, lot.unit)
            except ValueError:
                continue
    raise BadInput(lot.lot, f"how many {lot.unit} of {item} an installation takes is not known", f"--lots {lot.lot}=…")


def _take(lots: Sequence[Lot], needed: Decimal, left: dict[str, Decimal], taken: dict[str, Decimal]) -> None:
    for lot in lots:
        last = lot is lots[-1]
        # The last of them gives the rest: if it can't, the ledger says so.
        amount = needed if last else min(needed, convert(left[lot.lot], lot.unit, lots[0].unit))
        in_its_unit = convert(amount, lots[0].unit, lot.unit)
        taken[lot.lot] = taken.get(lot.lot, Decimal(0)) + in_its_unit
        left[lot.lot] = max(Decimal(0), left[lot.lot] - in_its_unit)
        needed -= amount


def _cut(amount: Decimal, there: Decimal) -> Decimal:
    """Cut to six decimals; to what is there, where only the cutting of decimals asks for more."""
    rounded = amount.quantize(Decimal("0.000001"))
    return there if there < rounded <= there + _SLIVER else rounded


def departures_of(items: Container[str], lots: Iterable[str], shelf: Shelf, anyway: bool) -> list[str]:
    """Give the items of lots that the chain doesn't have; BadInput where they aren't to be used anyway."""
    found: dict[str, None] = {}
    for mark in lots:
        if mark not in shelf.lots:
            raise no_such_lot(mark, shelf)
        item = shelf.lots[mark].item
        if item not in items:
            if not anyway:
                what = f"holds {item}, which this job's chain doesn't have"
                raise BadInput(mark, what, "take the chain that has it (`choose`), or say --anyway with a --reason")
            found[item] = None
    return list(found)
