"""Lots of a shelf that no ledger holds, for what only shows them."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from kb.stock.flags import judged
from kb.stock.fold import Shelf
from kb.stock.lots import Lot

SVG = "{http://www.w3.org/2000/svg}"
NASTY = '<script>alert("x")</script> & ü'


def lot(mark: str, **more: Any) -> Lot:
    given: dict[str, Any] = {"item": "acetone", "quantity": Decimal(5), "unit": "mL", "since": "2027-01-01"}
    return Lot(**({"lot": mark} | given | more))


def shelf(*lots: Lot) -> Any:
    return judged(Shelf({one.lot: one for one in lots}), lambda _: {}, "2027-03-01")
