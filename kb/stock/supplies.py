"""How the lab buys an item: the pack that it orders, its price, the days to delivery, the least that is to be there.

They are the lab's documents (`kb.base.documents`); a spreadsheet takes them out and brings them back as a table,
`item,pack,unit,price,lead_days,minimum`. Money is an exact decimal, in the one currency that the lab names. What nobody
has said is unknown: a pack without a price costs an unknown amount, never nothing.

>>> money("24.9"), money("0.005"), currency_named(" eur "), currency_named("€")
(Decimal('24.9'), Decimal('0.005'), 'EUR', '€')
"""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Any

from kb.base.documents import Documents, Row
from kb.base.errors import BadInput
from kb.stock.amounts import amount, convert, text
from kb.stock.tables import Row as Cells
from kb.stock.tables import Table, read, written

COLUMNS = ("item", "pack", "unit", "price", "lead_days", "minimum")
_TABLE, _KEY = "prices", "item"
_SETTINGS, _NAME, _CURRENCY = "settings", "name", "currency"
_LONGEST_CURRENCY = 12
_MOST_DAYS = 3650

#: An amount and its unit as they are kept of an item (`kb.stock.items.Items.amount`).
InItsUnit = Callable[[str, str, str], tuple[str, str]]


@dataclass(frozen=True, slots=True)
class Supply:
    """How an item is bought; what nobody has said is None. `pack` and `minimum` are in `unit`, `price` is a pack's."""

    item: str
    pack: Decimal | None = None
    unit: str = ""
    price: Decimal | None = None
    lead_days: int | None = None
    minimum: Decimal | None = None


class Supplies:
    """What the lab has said of each item, by the item's id, and its currency ("" where it has named none)."""

    def __init__(self, documents: Documents, by_item: Mapping[str, Supply], currency: str) -> None:
        self._documents, self.by_item, self.currency = documents, by_item, currency

    @classmethod
    def load(cls, workspace: Path) -> Supplies:
        """Read the workspace's documents; BadInput, which names the item, where somebody edited one amiss."""
        documents = Documents(workspace)
        found = {one.item: one for one in map(_supply_of, documents.rows(_TABLE))}
        currency = (documents.row(_SETTINGS, _NAME, _CURRENCY) or {}).get("value")
        return cls(documents, found, str(currency or ""))

    @property
    def lead_days(self) -> dict[str, int]:
        """The days to delivery of each item of which they are known."""
        return {one.item: one.lead_days for one in self.by_item.values() if one.lead_days is not None}

    @property
    def minimums(self) -> dict[str, tuple[Decimal, str]]:
        """The least that is to be there of each item, with its unit."""
        return {one.item: (one.minimum, one.unit) for one in self.by_item.values() if one.minimum is not None}

    def put(self, supplies: Iterable[Supply]) -> None:
        """Keep what is said of items, each in the place of what was said before."""
        for one in supplies:
            self._documents.put(_TABLE, _KEY, supply_document(one) | {n: _told(one, n) for n in _EXACT})

    def forget(self, item: str) -> bool:
        """Forget an item; whether anything was known of it."""
        return self._documents.take_away(_TABLE, _KEY, item)

    def set_currency(self, words: str) -> str:
        """Keep the currency of every price."""
        currency = currency_named(words)
        self._documents.put(_SETTINGS, _NAME, {_NAME: _CURRENCY, "value": currency})
        return currency

    def table(self) -> str:
        """Give all of it as a spreadsheet reads it."""
        bought = sorted(self.by_item.values(), key=lambda supply: supply.item)
        return written(COLUMNS, ([_told(one, name) for name in COLUMNS] for one in bought))


_EXACT = ("pack", "price", "minimum")


def money(words: str) -> Decimal:
    """Give a price as an exact decimal; ValueError where it is none, or below nothing."""
    found = amount(words)
    if found < 0:
        raise ValueError(f"{words} is less than nothing")
    return found


def currency_named(words: str) -> str:
    """Give the lab's word for its currency: letters, or one currency sign. BadInput for anything else."""
    said = words.strip()
    sign = len(said) == 1 and unicodedata.category(said) == "Sc"
    if not sign and not (said.isalpha() and len(said) <= _LONGEST_CURRENCY):
        raise BadInput("--currency", f"'{words}' is no word for a currency", "such as EUR, or one sign")
    return said if sign else said.upper()


def supply_of(said: Mapping[str, str | None], before: Supply, in_its_unit: InItsUnit) -> Supply:
    """Tell what is known of an item after something more was said; what isn't said stays as it was before.

    BadInput, which names the option, where a number, the unit or the days are wrong.
    """
    unit = said.get("unit") or before.unit
    amounts: dict[str, Decimal | None] = {"pack": before.pack, "minimum": before.minimum}
    kept = before.unit
    for name, known in amounts.items():
        given = said.get(name)
        if given is None and known is None:
            continue
        if not unit:
            raise BadInput(f"--{name}", "its unit is missing", "add --unit, such as mL, g or pcs")
        quantity, kept = in_its_unit(before.item, given if given is not None else text(known or Decimal(0)), unit)
        amounts[name] = _above_nothing(quantity, f"--{name}", zero=name == "minimum")
    if said.get("unit") and amounts["pack"] is None and amounts["minimum"] is None:
        raise BadInput("--unit", "there is no amount that it is of", "add --pack or --minimum")
    price = before.price
    if (given := said.get("price")) is not None:
        try:
            price = money(given)
        except ValueError as fault:
            raise BadInput("--price", str(fault)) from None
    if price is not None and amounts["pack"] is None:
        raise BadInput("--price", "it is not known what a pack holds", "add --pack and --unit")
    lead = before.lead_days if said.get("lead_days") is None else int(said["lead_days"] or 0)
    return Supply(before.item, amounts["pack"], kept, price, lead, amounts["minimum"])


def supplies_in(
    content: bytes, where: str, resolve: Callable[[str], str], in_its_unit: InItsUnit, priced: bool
) -> list[Supply]:
    """Read a table of supplies; without a currency (`priced`) no price can be taken. Faults, each with its place."""
    table = read(content, where, COLUMNS, ("item",), _EXACT)
    found = [one for row in table.rows if (one := _supply(table, row, resolve, in_its_unit, priced))]
    table.close()
    return found


def supply_document(one: Supply) -> dict[str, Any]:
    """Tell what is known of an item as JSON holds it."""
    numbers = {name: None if (value := getattr(one, name)) is None else float(value) for name in _EXACT}
    return {"item": one.item, "unit": one.unit or None, "lead_days": one.lead_days, **numbers}


def supply_text(one: Supply, currency: str) -> str:
    """Tell what is known of an item, in a line."""
    parts = [
        f"a pack of {text(one.pack)} {one.unit}" if one.pack is not None else "",
        f"{text(one.price)} {currency} a pack" if one.price is not None else "no price is known",
        f"{one.lead_days} days to deliver" if one.lead_days is not None else "",
        f"at least {text(one.minimum)} {one.unit} to be there" if one.minimum is not None else "",
    ]
    return f"{one.item}: {', '.join(part for part in parts if part)}"


def no_currency(where: str) -> BadInput:
    """Give the fault of a price in no currency."""
    return BadInput(where, "the lab's currency is not known", "name it once: `stock supplies --currency EUR`")


def _told(one: Supply, name: str) -> str | int | None:
    value = getattr(one, name)
    return text(value) if isinstance(value, Decimal) else value


def _above_nothing(quantity: str, where: str, zero: bool) -> Decimal:
    found = Decimal(quantity)
    if found < 0 or (not found and not zero):
        raise BadInput(
            where, f"{quantity} is not more than nothing", "give what a pack holds, or the least to be there"
        )
    return found


def _supply_of(row: Row) -> Supply:
    """Tell what a document says, which somebody may have edited."""
    try:
        said = {name: None if row.get(name) is None else money(str(row[name])) for name in _EXACT}
        lead = None if row.get("lead_days") is None else int(row["lead_days"])
        return Supply(str(row["item"]), said["pack"], str(row.get("unit") or ""), said["price"], lead, said["minimum"])
    except (KeyError, ValueError, TypeError) as fault:
        place = f"documents.json: price of {row.get('item')}"
        raise BadInput(place, f"is amiss ({fault})", "mend it, or `stock supply` it anew") from None


def _supply(
    table: Table, row: Cells, resolve: Callable[[str], str], in_its_unit: InItsUnit, priced: bool
) -> Supply | None:
    before = len(table.faults)
    numbers = {name: table.number(row, name) for name in (*_EXACT, "lead_days")}
    lead = numbers["lead_days"]
    if lead is not None and not (lead == int(lead) and 0 <= lead <= _MOST_DAYS):
        table.fault(row, "lead_days", f"{lead} is not a whole number of days, up to {_MOST_DAYS}")
    if numbers["price"] is not None and not priced:
        fault = no_currency("")
        table.fault(row, "price", fault.what, fault.mend)
    if len(table.faults) > before:
        return None
    said = {name: None if value is None else text(value) for name, value in numbers.items()}
    said["unit"] = row.cells.get("unit") or None
    try:
        return supply_of(said, Supply(resolve(row.cells.get("item", ""))), in_its_unit)
    except BadInput as fault:
        table.fault(row, fault.where.lstrip("-") or "item", fault.what, fault.mend)
        return None


def pack_in(supply: Supply | None, unit: str) -> Decimal | None:
    """Tell what a pack holds in a unit; None where it isn't known, or doesn't convert."""
    if supply is None or supply.pack is None:
        return None
    try:
        return convert(supply.pack, supply.unit, unit)
    except ValueError:
        return None
