"""What jobs keep for themselves on the shelf: it is left for them when others pick, and shrinks as they record."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

from kb.stock.amounts import convert, text
from kb.stock.fold import present_names
from kb.stock.ledger import Ledger, Look
from kb.stock.stores import Document, Draft, Once
from kb.work.installations import Now, named_at

#: So much of each lot, in one of its units.
Kept = dict[str, tuple[Decimal, str]]


def reserve(
    ledger: Ledger,
    job: str,
    draws: Iterable[tuple[str, Decimal, str]],
    at: str,
    who: str,
    today: str,
    once: Once | None = None,
) -> Document:
    """Keep so much of each lot for a job, in place of what it kept before; without any, let it go."""
    # Looking builds no models.
    from kb.work.forms import checked

    rows = [{"lot": lot, "quantity": text(amount), "unit": unit} for lot, amount, unit in draws]

    def decide(look: Look) -> list[Draft]:
        said = {"job": job, "at": at, "who": who, "recorded": today, "draws": rows}
        head = {"id": look.next_number("work"), "type": "reserved", "as_of": look.next_number("stock") - 1}
        return [Draft("work", checked({**head, **said}))]

    return ledger.append(decide, once)[0].body


def reserved(records: Iterable[Document], apart_from: str = "", now: Now = lambda name, _: name) -> Kept:
    """Tell what is still reserved of each lot, in one of its units, by other jobs than the one named.

    What a job records as used comes off its reservation. Of a lot that never came nothing is kept.
    """
    by_job: dict[str, Kept] = {}
    for record in records:
        held = by_job.setdefault(record["job"], {})
        if record["type"] == "reserved":
            held.clear()
        for draw in record.get("draws", ()):
            lot = now(draw["lot"], named_at(record))
            amount, unit = Decimal(draw["quantity"]), draw["unit"]
            if not lot:
                continue
            if record["type"] == "reserved":
                before = held.get(lot, (Decimal(0), unit))
                held[lot] = (before[0] + convert(amount, unit, before[1]), before[1])
            elif lot in held:
                kept, its = held[lot]
                held[lot] = (max(Decimal(0), kept - convert(amount, unit, its)), its)
    totals: Kept = {}
    for job, held in by_job.items():
        for lot, (amount, unit) in held.items() if job != apart_from else ():
            before = totals.get(lot, (Decimal(0), unit))
            totals[lot] = (before[0] + convert(amount, unit, before[1]), before[1])
    return {lot: kept for lot, kept in totals.items() if kept[0]}


def reserved_in(ledger: Ledger, apart_from: str = "") -> Kept:
    """Tell what is still reserved in a ledger, by the lots' present names."""
    with ledger.looking() as look:
        return reserved(look.documents("work"), apart_from, present_names(look.shelf))


def own_reservation(ledger: Ledger, job: str) -> Kept:
    """Tell what a job keeps for itself."""
    with ledger.looking() as look:
        return reserved(look.documents("work", {job}), now=present_names(look.shelf))
