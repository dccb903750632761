"""What the shelf offers a plan on a day, from the lots and what was judged of them."""

from __future__ import annotations

from collections.abc import Iterable

from kb.planning.shelf import Shelf
from kb.stock.flags import Judged


def offered(lots: Iterable[Judged], on: str) -> Shelf:
    """Give what may be used on the day `on`, of the lots as judged for it."""
    judged = list(lots)
    told: dict[str, tuple[str, ...]] = {}
    for lot, life in judged:
        told[lot.item] = (*told.get(lot.item, ()), f"lot {lot.lot} is {life.state} ({life.reason})")
    return Shelf(on, frozenset(one.lot.item for one in judged if one.life.usable), told)
