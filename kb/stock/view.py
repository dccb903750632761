"""Lots and events as the documents and the tables that users see."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import TYPE_CHECKING, NamedTuple

from kb.rules.words import value_words
from kb.stock.amounts import convert, text
from kb.stock.flags import Flags, Judged, LeftOver, Low, OutOfDate, Reorder
from kb.stock.lots import Event
from kb.stock.shelf_life import last_moment
from kb.stock.stores import Document, Report
from kb.stock.when import moment

if TYPE_CHECKING:
    from kb.stock.temperatures import Effect, Log

SCHEMA = "tackroom.stock/1"
#: What jobs have reserved of each lot, in one of its units.
Kept = Mapping[str, tuple[Decimal, str]]
NONE: Kept = {}
_LOGGED = (
    "since", "until", "hours", "low_c", "high_c", "mkt_c", "activation_kj_mol", "reference_c", "spent_days",
    "excursion",
)  # fmt: skip


def number(value: Decimal) -> float:
    """Give an exact amount as a JSON number."""
    return float(value)


def row(judged: Judged, reason: bool = False, kept: Kept = NONE) -> Document:
    """Give a lot as `stock list --json` gives it; with its reason as `stock flag` does."""
    lot, life = judged
    reserved, unit = kept.get(lot.lot, (Decimal(0), lot.unit))
    found: Document = {
        "lot": lot.lot,
        "item": lot.item,
        "quantity": number(lot.quantity),
        "unit": lot.unit,
        "received": lot.received,
        "made": lot.made,
        "expires": lot.expires,
        "opened": lot.opened and lot.opened[:10],
        "usable_until": life.usable_until,
        "storage_c": lot.storage_c,
        "location": lot.location or None,
        "state": life.state,
        "limited_by": life.limited_by or None,
        "thawed": lot.thawed,
        "mixed": lot.mixed,
        "requalified_until": lot.requalified_until,
        "gtin": lot.gtin,
        "batch": lot.batch or None,
        "notes": list(life.notes),
        "reserved": number(convert(reserved, unit, lot.unit)),
    }
    return found | {"reason": life.reason} if reason else found


def shelf_document(lots: Iterable[Judged], on: str, known: str = "", kept: Kept = NONE) -> Document:
    """Give the answer of `stock list`; `kept` is what jobs have reserved of each lot."""
    return {"schema": SCHEMA, "on": on, "known": known or None, "lots": [row(one, kept=kept) for one in lots]}


def flags_document(flags: Flags, known: str = "") -> Document:
    """Give the answer of `stock flag`: every lot with its reason, what will be left, what to order, what is late."""
    return {
        "schema": SCHEMA,
        "on": flags.on,
        "known": known or None,
        "lots": [row(one, reason=True) for one in flags.lots],
        "left_over": _amounts(flags.left_over),
        "reorder": _amounts(flags.reorder),
        "planned": _amounts(flags.planned),
        "below_minimum": _amounts(flags.low),
    }


def _amounts(rows: Sequence[LeftOver | Reorder | OutOfDate | Low]) -> list[Document]:
    return [{k: number(v) if isinstance(v, Decimal) else v for k, v in one._asdict().items()} for one in rows]


def events_document(events: Iterable[Event], dry_run: bool) -> Document:
    """Events that were recorded, or in a dry run would be."""
    return {"schema": "tackroom.stock-events/1", "dry_run": dry_run, "events": [dict(event) for event in events]}


def history_document(events: Iterable[Event], lot: str) -> Document:
    """Give the answer of `stock history`."""
    return {"schema": "tackroom.stock-history/1", "lot": lot, "events": [dict(event) for event in events]}


def report_document(report: Report) -> Document:
    """Give the answer of `stock verify`, and what a backup or a restored workspace was found to hold."""
    found = {"events": report.events, "problems": list(report.problems), "notes": list(report.notes)}
    return {"schema": "tackroom.stock-report/1", "sound": not report.problems, **found}


def report_text(report: Report) -> str:
    """Tell what a check found, a line each."""
    lines = [f"{report.events} events.", *report.problems, *report.notes]
    return "".join(f"{line}\n" for line in lines) + ("" if report.problems else "Everything adds up.\n")


def log_document(log: Log, effects: Iterable[Effect], dry_run: bool) -> Document:
    """Give the answer of `stock temperatures`: what the log holds, and what it did to each lot that stood there."""
    lots = [
        {"lot": e.lot, "item": e.item, "usable_until_before": e.before, "usable_until": e.after, "state": e.state}
        | {name: e.event.get(name) for name in _LOGGED}
        for e in effects
    ]
    gaps = [[moment(begun.isoformat()), moment(ended.isoformat())] for begun, ended in log.gaps]
    found = {"log": log.name, "readings": len(log.times), "gaps": gaps, "dry_run": dry_run, "lots": lots}
    return {"schema": "tackroom.stock-temperatures/1", **found}


def effect_text(effect: Effect) -> str:
    """Tell what a log did to a lot, in one line."""
    event = effect.event
    if event.get("spent_days") is None:
        cost = "what it cost is not known: the class's storage range or sensitivity isn't"
    else:
        cost = f"mean kinetic temperature {event['mkt_c']:.1f} °C; {event['spent_days']:.2g} days of life lost"
    until = f"usable until {effect.after or 'not known'}"
    if effect.after != effect.before:
        until += f" (was {effect.before})"
    beyond = f"; set aside: {event['excursion']}" if event.get("excursion") else ""
    return f"{effect.lot} ({effect.item}): {event['hours']:g} h, {cost}; {until}{beyond}"


def shelf_text(
    lots: Sequence[Judged], title: str, on: str, known: str = "", kept: Kept = NONE, everything: bool = False
) -> str:
    """Give the shelf as a table, the lots to be used first at the top; empty ones only with `everything`."""
    if not lots:
        return f"{_head(title, on, known)}: nothing was received there.\n"
    shown = [one for one in lots if everything or one.life.state != "empty"]
    shown.sort(key=lambda one: (last_moment(one.life.usable_until), one.lot.lot))
    lines = [("lot", "item", "left", "usable until", "state", "where")] + [
        (
            one.lot.lot,
            one.lot.item,
            f"{text(one.lot.quantity)} {one.lot.unit}" + _reserved(one.lot.lot, kept),
            one.life.usable_until or "not known",
            one.life.state,
            one.lot.location,
        )
        for one in shown
    ]
    hidden = len(lots) - len(shown)
    return f"{_head(title, on, known)}\n{_table(lines)}" + (f"({hidden} empty)\n" if hidden else "")


def _head(title: str, on: str, known: str) -> str:
    return f"{title}, on {on}" + (f", by what was recorded up to {known}" if known else "")


def _reserved(mark: str, kept: Kept) -> str:
    amount, unit = kept.get(mark, (Decimal(0), ""))
    return f" ({text(amount)} {unit} kept for jobs)" if amount else ""


class Line(NamedTuple):
    """One thing that somebody is to do: with which lot, or which item ("" where with several), and what."""

    lot: str
    item: str
    said: str

    def __str__(self) -> str:
        subject = f"{self.lot} ({self.item})" if self.lot else self.item
        return f"{subject}: {self.said}" if subject else self.said


def flags_groups(flags: Flags) -> list[tuple[str, list[Line]]]:
    """Tell what needs somebody, in sentences, by what is to be done about it."""
    barred = [one for one in flags.lots if one.life.barred]
    soon = [one for one in flags.lots if one.life.state == "expires-soon"]
    groups = [
        ("Must not be used", [_judged(one) for one in barred]),
        ("Use these first", [_judged(one) for one in soon]),
        ("Will not be used up in time", [_left_over(one) for one in flags.left_over]),
        ("To order", [*map(_low, flags.low), *map(_due, flags.reorder)]),
        ("Not for the planned day", [_late(one) for one in flags.planned]),
        ("Not known, or in doubt", [Line("", "", doubt) for doubt in _doubts(flags.lots)]),
    ]
    return [(title, lines) for title, lines in groups if lines]


def _judged(one: Judged) -> Line:
    return Line(one.lot.lot, one.lot.item, f"{value_words(one.life.state)}: {one.life.reason}")


def _left_over(over: LeftOver) -> Line:
    rate = f"at {_rounded(over.rate)} {over.unit} a day" if over.rate else "it is not being used"
    left = f"{_rounded(over.left)} {over.unit} will be left on {over.usable_until}: {rate}"
    return Line(over.lot, over.item, left)


def _due(due: Reorder) -> Line:
    said = (
        f"order now: {_rounded(due.usable)} {due.unit} usable, {_rounded(due.rate)} {due.unit} a day, "
        f"runs out on {due.runs_out}, {due.lead_days} days to deliver"
    )
    return Line("", due.item, said)


def _low(low: Low) -> Line:
    others = f"; not counted, for their unit doesn't convert: {', '.join(low.others)}" if low.others else ""
    said = (
        f"below its minimum: {_rounded(low.usable)} {low.unit} usable of {_rounded(low.minimum)}, "
        f"{low.lead_days} days to deliver{others}"
    )
    return Line("", low.item, said)


def _late(late: OutOfDate) -> Line:
    others = f"{late.others} other lots are good" if late.others else "no other lot is good"
    return Line(late.lot, late.item, f"not for {late.day}: {late.reason}; {others}")


def _doubts(lots: Iterable[Judged]) -> list[str]:
    """Give each doubt once, with the lots that it is about."""
    about: dict[str, list[str]] = {}
    for lot, life in lots:
        for note in life.notes if lot.quantity else ():
            about.setdefault(note, []).append(f"{lot.lot} ({lot.item})")
    return [f"{', '.join(marks)}: {note}" for note, marks in about.items()]


def flags_text(flags: Flags, title: str, known: str = "") -> str:
    """Tell what needs somebody, group by group."""
    head = _head(title, flags.on, known)
    if not flags.lots and not flags.low:
        return f"{head}: nothing was received there.\n"
    groups = flags_groups(flags)
    lines = [line for name, rows in groups for line in (f"{name}:", *(f"  {row}" for row in rows))]
    return "".join(f"{line}\n" for line in (head, *lines)) if lines else f"{head}: nothing needs doing.\n"


def history_text(events: Sequence[Event]) -> str:
    """Give the events of a lot in the order of recording, one a line; what was taken back or corrected says so."""
    void: dict[int, int] = {}
    mended: dict[int, int] = {}
    for event in events:
        if event["type"] == "corrected":
            target = event["corrects"]
            mended[target] = event["id"]
            if event.get("void") is not None:
                void.pop(target, None)
            if event.get("void"):
                void[target] = event["id"]
    lines = []
    for event in events:
        number = event["id"]
        mark = f" [void, by event {void[number]}]" if number in void else ""
        mark = mark or (f" [corrected, by event {mended[number]}]" if number in mended else "")
        lines.append(f"{event_text(event)}{mark}\n")
    return "".join(lines)


def events_text(events: Iterable[Event]) -> str:
    """Events in order, one a line, each with all that it says."""
    return "".join(event_text(event) + "\n" for event in events)


def event_text(event: Event) -> str:
    """Write one event as a line.

    >>> said = {"type": "used", "at": "2027-03-02", "who": "kim", "lot": "A", "quantity": "5", "unit": "mL"}
    >>> event_text({"id": 2, **said})
    '#2 2027-03-02 A used 5 mL, by kim'
    """
    known = ("id", "type", "at", "who", "lot", "quantity", "unit", "recorded")
    amount = f" {event['quantity']} {event['unit']}" if "quantity" in event else ""
    rest = "".join(f"; {name} {value}" for name, value in event.items() if name not in known)
    mark = f"#{event['id']} " if "id" in event else ""
    return f"{mark}{event['at']} {event['lot']} {event['type']}{amount}, by {event['who']}{rest}"


def _rounded(value: Decimal) -> str:
    return f"{value:.3g}" if value < 100 else f"{value:.0f}"


def _table(lines: Sequence[tuple[str, ...]]) -> str:
    widths = [max(map(len, column)) for column in zip(*lines, strict=True)]
    rows = ("  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip() for line in lines)
    return "".join(row + "\n" for row in rows)
