"""What a job's materials cost: as members of `estimate`'s document, in words, and as a table with the amounts."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from decimal import Decimal
from typing import Any

from kb.quantities.estimate import Estimate, Line
from kb.report.text import wrapped
from kb.stock.amounts import text
from kb.stock.tables import defused, written
from kb.work.costing import Cost, Costs, rounded

COLUMNS = (
    "item", "name", "unit", "used", "lost", "in_all", "low", "high", "bring", "pack_size", "packs",
    "price", "currency", "cost_used", "cost_per_gauge", "cost_packs",
)  # fmt: skip
#: So many names are told in a sentence.
_NAMED = 5
#: How a price is told to the program.
_TELL = "`stock supplies --currency EUR`, then `stock supply ITEM --pack 500 --unit mL --price 24.90`"


def costs_json(found: Costs) -> dict[str, Any]:
    """Give the member `cost`: sums of what is known, null where no price is; each line's own, and what has none."""
    known = bool(found.known)
    return {
        "currency": found.currency or None,
        "used": float(rounded(found.used)) if known else None,
        "per_gauge": float(rounded(found.per_gauge)) if known else None,
        "packs": float(rounded(found.bought)) if known else None,
        "complete": not found.unknown,
        "lines": [
            {
                "item": one.line.entry.id,
                "price": None if one.price is None else float(one.price),
                "used": None if one.used is None else float(rounded(one.used)),
                "bought": None if one.bought is None else float(rounded(one.bought)),
            }
            for one in found.lines
        ],
        "price_not_known": [line.entry.id for line in found.unknown],
    }


def costs_text(found: Costs) -> str:
    """Tell what it costs, and of what no price is known."""
    return "".join(f"{line}\n" for line in _said(found))


def _said(found: Costs) -> Iterator[str]:
    if not found.known:
        yield wrapped(f"no price is known of any of it: {_TELL}.", "COST   ")
        return
    least = "at least " if found.unknown else ""
    used, gauge, packs = (f"{rounded(x)} {found.currency}" for x in (found.used, found.per_gauge, found.bought))
    said = f"{least}{used} for the materials used, {gauge} of it a good gauge; in whole packs {packs}."
    yield wrapped(said, "COST   ")
    if found.unknown:
        yield wrapped(f"In no sum, for no price is known: {few(line.entry.name for line in found.unknown)}.", "       ")


def few(names: Iterable[str]) -> str:
    """List names, of many the first and how many more there are.

    >>> few("abc"), few("abcdefgh")
    ('a; b; c', 'a; b; c; d; e; and 3 more')
    """
    known = list(names)
    rest = len(known) - _NAMED
    return "; ".join(known if rest < 2 else [*known[:_NAMED], f"and {rest} more"])


def estimate_table(work: Estimate, found: Costs) -> str:
    """Give the lines of an estimate with what each costs, as a table (CSV); what isn't known is empty."""
    return written(COLUMNS, (_cells(*row, found) for row in zip(work.lines, found.lines, strict=True)))


def _cells(line: Line, cost: Cost, found: Costs) -> Iterator[object]:
    gauge = None if cost.used is None else cost.used / found.good
    amounts = (line.net, line.waste, line.gross, *line.range, line.bring, line.pack_size, line.packs)
    prices = (cost.price, found.currency if cost.price is not None else None)
    money = (None if x is None else rounded(x) for x in (cost.used, gauge, cost.bought))
    for value in (line.entry.id, line.entry.name, line.unit, *amounts, *prices, *money):
        yield text(value) if isinstance(value, Decimal) else defused(value) if isinstance(value, str) else value
