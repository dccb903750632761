"""Whether what is kept of the work is whole: every record in its form, and its draws on the shelf exactly once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from kb.base.errors import BadInput
from kb.stock.ledger import Ledger
from kb.stock.stores import Document, Report
from kb.work.forms import checked

Tie = tuple[int, str, str, str]


def verify(ledger: Ledger) -> Report:
    """Check the ledger whole: the store, the stock's events and what they add up to, and the records of the work."""
    report = ledger.verify()
    if report.problems:
        return report
    records, events = ledger.documents("work"), ledger.documents("stock")
    return report + Report(report.events, tuple(_faults(records, events)), tuple(_notes(records)))


def _faults(records: Iterable[Document], events: Iterable[Mapping[str, Any]]) -> Iterator[str]:
    drawn: Counter[Tie] = Counter(
        _tie(event["record"], event) for event in events if event["type"] == "used" and "record" in event
    )
    for record in records:
        try:
            if checked(record) != record:
                yield f"record {record['id']}: is not in canonical form"
        except BadInput as fault:
            yield f"record {record.get('id')}: {fault}"
            continue
        for draw in record.get("draws", ()) if record["type"] == "installed" else ():
            tie = _tie(record["id"], draw)
            if not drawn[tie]:
                yield f"record {record['id']}: what it took of {draw['lot']} was not taken from the shelf"
            drawn[tie] -= 1
    for (number, lot, quantity, unit), left in drawn.items():
        if left > 0:
            yield f"{quantity} {unit} of {lot} belong to record {number}, which doesn't say so"


def _tie(number: int, draw: Mapping[str, Any]) -> Tie:
    return number, draw["lot"], draw["quantity"], draw["unit"]


def _notes(records: Iterable[Document]) -> Iterator[str]:
    for record in records:
        for draw in record.get("never_drawn", ()):
            yield (
                f"record {record['id']} of an earlier version says that it took {draw['quantity']} {draw['unit']} of "
                f"{draw['lot']}, and never took it from the shelf: count that lot"
            )
