"""The answer to `estimate --order`: what to buy, as a document, in words, and as a table to send."""

from __future__ import annotations

import csv
import io
from decimal import Decimal
from typing import Any

from kb.report.estimate import figure
from kb.report.text import wrapped
from kb.stock.tables import defused
from kb.work.ordering import Order, Ordered

COLUMNS = (
    "item", "name", "unit", "needed", "low", "high", "on_shelf", "lacking", "pack_size", "packs", "gtin",
    "lead_days", "first_used", "order_by",
)  # fmt: skip


def order_json(found: Ordered, job: str) -> dict[str, Any]:
    """`tackroom.order/1`: every item of the job, those that are there already with none to buy."""
    return {"schema": "tackroom.order/1", "job": job, "on": found.on, "lines": [_row(row) for row in found.rows]}


def order_table(found: Ordered) -> str:
    """What is to be bought as a table (CSV)."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    for row in found.to_buy:
        writer.writerow(["" if v is None else defused(v) if isinstance(v, str) else v for v in _row(row).values()])
    return out.getvalue()


def order_text(found: Ordered, today: str) -> str:
    """What to buy, the first to be ordered first; then what is there already, in a line."""
    buy = sorted(found.to_buy, key=lambda row: (row.order_by, row.line.entry.id))
    lines = [f"To buy for the work that begins on {found.on}, less what the shelf has for the day of its use:"]
    for row in buy:
        late = "  LATE: the usual delivery comes after its first use" if row.order_by < today else ""
        lines.append(f"  {_amount(row)} of {row.line.entry.name}, by {row.order_by}{late}")
        told = f"bring {figure(float(row.needed))} {row.unit} ({figure(row.low)} to {figure(row.high)}), "
        told += f"{figure(float(row.shelf))} on the shelf; first used {row.first_used}, delivery {row.lead_days} days"
        lines.append(wrapped(told + (f", product {row.gtin}" if row.gtin else ""), "      "))
    if not buy:
        lines = [f"Nothing is to be bought for the work that begins on {found.on}: the shelf has all of it."]
    there = [row.line.entry.name for row in found.rows if not row.lacking]
    if buy and there:
        lines.append(wrapped(", ".join(there), "On the shelf: "))
    return "".join(f"{line}\n" for line in lines)


def _amount(row: Order) -> str:
    if row.packs is None or row.pack_size is None:
        return f"{figure(float(row.lacking))} {row.unit} (its packs are not known)"
    return f"{row.packs} pack{'s' if row.packs != 1 else ''} of {figure(float(row.pack_size))} {row.unit}"


def _row(row: Order) -> dict[str, Any]:
    values = (
        row.line.entry.id, row.line.entry.name, row.unit, row.needed, row.low, row.high, row.shelf, row.lacking,
        row.pack_size, row.packs if row.lacking else 0, row.gtin or None, row.lead_days, row.first_used, row.order_by,
    )  # fmt: skip
    plain = (float(value) if isinstance(value, Decimal) else value for value in values)
    return dict(zip(COLUMNS, plain, strict=True))
