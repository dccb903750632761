"""The house table of products: which catalog item a product number on a pack stands for, and how much is in it.

It is one of the lab's documents (`kb.base.documents`); a spreadsheet takes it out and brings it back as a table,
`gtin,item,quantity,unit,lead_days`. A product number (GTIN) has 8, 12, 13 or 14 digits, the last of which checks the
others; it is kept with 14.

>>> padded("4012345678901"), has_right_check_digit("04012345678901"), has_right_check_digit("04012345678902")
('04012345678901', True, False)
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Any

from kb.base import disk
from kb.base.documents import Documents, Row
from kb.base.errors import BadInput
from kb.stock.amounts import amount, text, unit_named
from kb.stock.tables import Row as Cells
from kb.stock.tables import Table, read, written

COLUMNS = ("gtin", "item", "quantity", "unit", "lead_days")
_TABLE, _KEY = "products", "gtin"
#: Where earlier versions kept the table.
_BEFORE = "products.csv"
_FEWEST_DIGITS = 7


@dataclass(frozen=True, slots=True)
class Product:
    """A pack: its number, the item in it, how much (None: not known) and the days from order to delivery."""

    gtin: str
    item: str
    quantity: Decimal | None = None
    unit: str = ""
    lead_days: int | None = None


class Products:
    """The table of a workspace, by product number."""

    def __init__(self, documents: Documents, by_gtin: Mapping[str, Product]) -> None:
        self._documents, self.by_gtin = documents, by_gtin

    @classmethod
    def load(cls, workspace: Path) -> Products:
        """Read the workspace's table; empty where there is none. Raises BadInput, which names the row."""
        documents = Documents(workspace)
        before = workspace / _BEFORE
        if before.exists() and not documents.rows(_TABLE):
            found = {one.gtin: one for one in products_in(disk.read(before), before.name)}
        else:
            found = {one.gtin: one for one in map(_product_of, documents.rows(_TABLE))}
        return cls(documents, found)

    @property
    def lead_days(self) -> dict[str, int]:
        """The longest delivery of each item's products, where one is known."""
        found: dict[str, int] = {}
        for product in self.by_gtin.values():
            if product.lead_days is not None:
                found[product.item] = max(product.lead_days, found.get(product.item, 0))
        return found

    def put(self, products: Sequence[Product]) -> None:
        """Keep products, each in the place of the one of its number; with them, what an earlier version kept."""
        known = {row[_KEY] for row in self._documents.rows(_TABLE)}
        earlier = [one for one in self.by_gtin.values() if one.gtin not in known]
        for product in {one.gtin: one for one in (*earlier, *products)}.values():
            self._documents.put(_TABLE, _KEY, _row(product))

    def table(self) -> str:
        """Give the table as a spreadsheet reads it."""
        packs = sorted(self.by_gtin.values(), key=lambda product: (product.item, product.gtin))
        return written(COLUMNS, (map(_row(one).get, COLUMNS) for one in packs))


def products_in(content: bytes, where: str) -> list[Product]:
    """Read the products in a table. Raises Faults, each with its row and column."""
    table = read(content, where, COLUMNS, ("gtin", "item"), ("quantity", "lead_days"))
    found = [product for row in table.rows if (product := _product(table, row))]
    table.close()
    return found


def product_of(
    gtin: str, item: str, quantity: str | None, unit: str, lead_days: int | None, resolve: Callable[[str], str]
) -> Product:
    """Make a product of what a user typed. BadInput where the number's check digit, the item or the amount is wrong."""
    number = padded(gtin)
    if not is_product_number(gtin):
        few = len(gtin.strip()) < _FEWEST_DIGITS
        said = "it has 8, 12, 13 or 14 digits" if few else "its check digit is wrong"
        raise BadInput(gtin, f"is not a product number: {said}", "read it again")
    if (quantity is None) != (not unit):
        raise BadInput("--quantity", "a quantity and its unit belong together", "give both or neither")
    try:
        content = None if quantity is None else amount(quantity)
        named = unit_named(unit) if unit else ""
    except ValueError as fault:
        raise BadInput("--quantity", str(fault)) from None
    return Product(number, resolve(item), content, named, lead_days)


def product_document(product: Product) -> dict[str, Any]:
    """Give a product as JSON holds it."""
    quantity = None if product.quantity is None else float(product.quantity)
    found = {"gtin": product.gtin, "item": product.item, "quantity": quantity, "unit": product.unit or None}
    return {**found, "lead_days": product.lead_days}


def padded(gtin: str) -> str:
    """Give the number with 14 digits."""
    return gtin.strip().zfill(14)


def is_product_number(words: str) -> bool:
    """Tell whether words are a product number, of which a spreadsheet may have dropped a leading nought.

    >>> is_product_number("4012345678901"), is_product_number("123")
    (True, False)
    """
    return len(words.strip()) >= _FEWEST_DIGITS and has_right_check_digit(padded(words))


def has_right_check_digit(gtin: str) -> bool:
    """Tell whether the last of 14 digits checks the others: GS1's sum, weights 3 and 1 in turn, modulo 10."""
    if len(gtin) != 14 or not (gtin.isascii() and gtin.isdecimal()):
        return False
    return sum(int(digit) * (1 if place % 2 else 3) for place, digit in enumerate(gtin)) % 10 == 0


def _row(product: Product) -> Row:
    quantity = None if product.quantity is None else text(product.quantity)
    return product_document(product) | {"quantity": quantity}


def _product_of(row: Row) -> Product:
    """Give the product that a document holds, which somebody may have edited."""
    gtin = str(row.get("gtin", ""))
    try:
        quantity = None if row.get("quantity") is None else str(row["quantity"])
        lead = None if row.get("lead_days") is None else int(row["lead_days"])
        return product_of(gtin, str(row["item"]), quantity, str(row.get("unit") or ""), lead, lambda item: item)
    except (BadInput, KeyError, ValueError, TypeError) as fault:
        said = fault.what if isinstance(fault, BadInput) else "is no product"
        raise BadInput(f"documents.json: product {gtin}", said, "mend it, or `stock link` it anew") from None


def _product(table: Table, row: Cells) -> Product | None:
    before = len(table.faults)
    gtin, item = padded(row.cells.get("gtin", "")), row.cells.get("item", "")
    if not is_product_number(row.cells.get("gtin", "")):
        said = row.cells.get("gtin")
        table.fault(row, "gtin", f"'{said}' is not a product number", "a spreadsheet may have shortened it")
    if not item:
        table.fault(row, "item", "is empty")
    quantity, lead = table.number(row, "quantity"), table.number(row, "lead_days")
    unit = table.read(row, "unit", unit_named) or ""
    if lead is not None and (lead < 0 or lead != int(lead)):
        table.fault(row, "lead_days", f"{lead} is not a whole number of days")
    if len(table.faults) > before:
        return None
    return Product(gtin, item, quantity, unit, None if lead is None else int(lead))
