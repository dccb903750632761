"""First expired, first out (topic 17), on the picker itself: lots as their codes were scanned.

Both facts are from memory: day 00 of a code stands for the last of its month, and the last day itself still counts.
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from kb.stock.fold import Shelf
from kb.stock.lots import Lot
from kb.stock.scan import read
from kb.work.picking import Need, pick
from tests.outside.published import entry


def _nothing(_: str) -> dict[str, object]:
    return {}


def _lot(mark: str, expires: str | None) -> Lot:
    return Lot(mark, "x", Decimal(10), "g", "2026-01-10", expires=expires)


def test_a_code_with_day_00_goes_after_one_of_the_middle_of_its_month() -> None:
    known = entry("fefo-00-sort")
    lots = {
        code: _lot(code, read(f"010401234567890117{code}", "2026-06-01").expires) for code in known.inputs["expiries"]
    }
    picked = pick([Need("x", "g", Decimal(15))], Shelf(lots), _nothing, "2026-06-01")
    assert [take.usable_until for take in picked.lines[0].takes] == known.expected
    assert [take.quantity for take in picked.lines[0].takes] == [10, 5]


@pytest.mark.parametrize(("day", "short"), [("2026-12-31", False), ("2027-01-01", True)])
def test_the_last_day_still_counts(day: str, short: bool) -> None:
    known = entry("iso-expiry-inclusive")
    shelf = Shelf({"A": _lot("A", known.inputs["expiry"])})
    assert (known.inputs["today"], known.expected) == ("2026-12-31", True)
    assert pick([Need("x", "g", Decimal(5))], shelf, _nothing, day).short is short
