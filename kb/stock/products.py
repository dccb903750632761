"""The house table of products: which catalog item a product number on a pack stands for, and how much is in it.

It is products.csv in the workspace, which a spreadsheet can edit: `gtin,item,quantity,unit,lead_days`. A product
number (GTIN) has 8, 12, 13 or 14 digits, the last of which checks the others; it is kept with 14.

>>> padded("4012345678901"), has_right_check_digit("04012345678901"), has_right_check_digit("04012345678902")
('04012345678901', True, False)
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Any

from kb.base.errors import BadInput
from kb.stock.amounts import amount, text, unit_named
from kb.stock.log import files
from kb.stock.tables import Row, Table, read

COLUMNS = ("gtin", "item", "quantity", "unit", "lead_days")


@dataclass(frozen=True, slots=True)
class Product:
    """A pack: its number, the item in it, how much (None: not known) and the days from order to delivery."""

    gtin: str
    item: str
    quantity: Decimal | None = None
    unit: str = ""
    lead_days: int | None = None


@dataclass(frozen=True)
class Products:
    """The table, by product number."""

    path: Path
    by_gtin: dict[str, Product]

    @classmethod
    def load(cls, workspace: Path) -> Products:
        """The workspace's table; empty where there is none. Raises Faults, each with its row and column."""
        path = workspace / "products.csv"
        if not path.exists():
            return cls(path, {})
        table = read(path.read_bytes(), path.name, COLUMNS, ("gtin", "item"), ("quantity", "lead_days"))
        found = {product.gtin: product for row in table.rows if (product := _product(table, row))}
        table.close()
        return cls(path, found)

    @property
    def lead_days(self) -> dict[str, int]:
        """The longest delivery of each item's products, where one is known."""
        found: dict[str, int] = {}
        for product in self.by_gtin.values():
            if product.lead_days is not None:
                found[product.item] = max(product.lead_days, found.get(product.item, 0))
        return found

    def with_product(self, product: Product) -> Products:
        """The table with `product` in it, in the place of the one of that number."""
        return Products(self.path, {**self.by_gtin, product.gtin: product})

    def save(self) -> None:
        """Write the table, as a whole or not at all."""
        out = io.StringIO()
        writer = csv.writer(out)
        writer.writerow(COLUMNS)
        for one in sorted(self.by_gtin.values(), key=lambda product: (product.item, product.gtin)):
            content = "" if one.quantity is None else text(one.quantity)
            writer.writerow((one.gtin, one.item, content, one.unit, "" if one.lead_days is None else one.lead_days))
        with files.refusals(self.path):
            files.make_folder(self.path.parent)
            files.replace(self.path, out.getvalue().encode())


def product_of(
    gtin: str, item: str, quantity: str | None, unit: str, lead_days: int | None, resolve: Callable[[str], str]
) -> Product:
    """A product from what a user typed. BadInput where the number's check digit, the item or the amount is wrong."""
    number = padded(gtin)
    if not has_right_check_digit(number):
        raise BadInput(gtin, "is not a product number: its check digit is wrong", "read it again")
    if (quantity is None) != (not unit):
        raise BadInput("--quantity", "a quantity and its unit belong together", "give both or neither")
    try:
        content = None if quantity is None else amount(quantity)
        named = unit_named(unit) if unit else ""
    except ValueError as fault:
        raise BadInput("--quantity", str(fault)) from None
    return Product(number, resolve(item), content, named, lead_days)


def product_document(product: Product) -> dict[str, Any]:
    """A product as JSON holds it."""
    quantity = None if product.quantity is None else float(product.quantity)
    found = {"gtin": product.gtin, "item": product.item, "quantity": quantity, "unit": product.unit or None}
    return {**found, "lead_days": product.lead_days}


def padded(gtin: str) -> str:
    """The number with 14 digits."""
    return gtin.strip().zfill(14)


def has_right_check_digit(gtin: str) -> bool:
    """Whether the last of 14 digits checks the others: GS1's sum, weights 3 and 1 in turn, modulo 10."""
    if len(gtin) != 14 or not (gtin.isascii() and gtin.isdecimal()):
        return False
    return sum(int(digit) * (1 if place % 2 else 3) for place, digit in enumerate(gtin)) % 10 == 0


def _product(table: Table, row: Row) -> Product | None:
    before = len(table.faults)
    gtin, item = padded(row.cells.get("gtin", "")), row.cells.get("item", "")
    if not has_right_check_digit(gtin):
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
