"""Events of an invented lab, for tests. No lot, maker or person here exists."""

from __future__ import annotations

from typing import Any


def received(lot: str = "A-17", quantity: str = "500", unit: str = "mL", **more: Any) -> dict[str, Any]:
    given = {"type": "received", "at": "2027-03-01", "who": "kim", "lot": lot, "item": "acetone"}
    return {**given, "quantity": quantity, "unit": unit, **more}


def used(lot: str = "A-17", quantity: str = "1", unit: str = "mL", **more: Any) -> dict[str, Any]:
    return {"type": "used", "at": "2027-03-02", "who": "kim", "lot": lot, "quantity": quantity, "unit": unit, **more}


def event(kind: str, lot: str = "A-17", at: str = "2027-03-03", **more: Any) -> dict[str, Any]:
    return {"type": kind, "at": at, "who": "kim", "lot": lot, **more}
