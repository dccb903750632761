"""The answer to `estimate --order`: what to buy, as a document, in words, and as a table to send."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from kb.report.costs import few
from kb.report.estimate import figure
from kb.report.text import wrapped
from kb.stock.tables import defused, written
from kb.work.costing import rounded
from kb.work.ordering import Order, Ordered

COLUMNS = (
    "item", "name", "unit", "needed", "low", "high", "on_shelf", "lacking", "pack_size", "packs", "gtin",
    "lead_days", "first_used", "order_by", "price", "cost", "currency",
)  # fmt: skip


def order_json(found: Ordered, job: str) -> dict[str, Any]:
    """Give `tackroom.order/1`: every item of the job, those that are there already with none to buy."""
    return {
        "schema": "tackroom.order/1",
        "job": job,
        "on": found.on,
        "lines": [_row(r, found.currency) for r in found.rows],
    }


def order_table(found: Ordered) -> str:
    """Tell what is to be bought as a table (CSV)."""
    rows = (_row(row, found.currency).values() for row in found.to_buy)
    return written(COLUMNS, ([defused(v) if isinstance(v, str) else v for v in row] for row in rows))


def order_text(found: Ordered, today: str) -> str:
    """Tell what to buy, the first to be ordered first; then what is there already, in a line."""
    buy = sorted(found.to_buy, key=lambda row: (row.order_by, row.line.entry.id))
    lines = [f"To buy for the work that begins on {found.on}, less what the shelf has for the day of its use:"]
    for row in buy:
        late = "  LATE: the usual delivery comes after its first use" if row.order_by < today else ""
        cost = f", {rounded(row.cost)} {found.currency}" if row.cost is not None else ""
        lines.append(f"  {_amount(row)} of {row.line.entry.name}{cost}, by {row.order_by}{late}")
        told = f"bring {figure(float(row.needed))} {row.unit} ({figure(row.low)} to {figure(row.high)}), "
        told += f"{figure(float(row.shelf))} on the shelf; first used {row.first_used}, delivery {row.lead_days} days"
        lines.append(wrapped(told + (f", product {row.gtin}" if row.gtin else ""), "      "))
    if not buy:
        lines = [f"Nothing is to be bought for the work that begins on {found.on}: the shelf has all of it."]
    there = [row.line.entry.name for row in found.rows if not row.lacking]
    if buy and any(row.cost is not None for row in buy):
        lines.append(wrapped(_together(buy, found.currency), ""))
    if buy and there:
        lines.append(wrapped("; ".join(there), "On the shelf: "))
    return "".join(f"{line}\n" for line in lines)


def _together(buy: Sequence[Order], currency: str) -> str:
    """Tell what all of it costs, and what has no price."""
    known = [row.cost for row in buy if row.cost is not None]
    unknown = [row.line.entry.name for row in buy if row.cost is None]
    said = f"Together {'at least ' if unknown else ''}{rounded(sum(known, Decimal(0)))} {currency}."
    return f"{said} No price is known of {few(unknown)}." if unknown else said


def _amount(row: Order) -> str:
    if row.packs is None or row.pack_size is None:
        return f"{figure(float(row.lacking))} {row.unit} (its packs are not known)"
    return f"{row.packs} pack{'s' if row.packs != 1 else ''} of {figure(float(row.pack_size))} {row.unit}"


def _row(row: Order, currency: str) -> dict[str, Any]:
    values = (
        row.line.entry.id, row.line.entry.name, row.unit, row.needed, row.low, row.high, row.shelf, row.lacking,
        row.pack_size, row.packs if row.lacking else 0, row.gtin or None, row.lead_days, row.first_used, row.order_by,
        row.price, None if row.cost is None else rounded(row.cost), currency if row.price is not None else None,
    )  # fmt: skip
    plain = (float(value) if isinstance(value, Decimal) else value for value in values)
    return dict(zip(COLUMNS, plain, strict=True))
