"""What is on the shelf: a pure fold of events to lots, and the rules that an event must keep.

Events are folded in the order in which they were recorded; within a lot their times may not run backwards.
An amount never goes below zero. A correction is itself an event: it names the one that was recorded wrongly, and
the lot is folded again as if that one had been right from the start.

>>> came = {"id": 1, "type": "received", "at": "2027-03-01", "who": "kim", "lot": "A-17", "item": "acetone",
...         "quantity": "500", "unit": "mL"}
>>> used = {"id": 2, "type": "used", "at": "2027-03-02", "who": "kim", "lot": "A-17", "quantity": "0.2", "unit": "L"}
>>> fold([came, used]).lots["A-17"].quantity
Decimal('300.0')
>>> fold([came, {**used, "quantity": "0.6"}])
Traceback (most recent call last):
    ...
kb.stock.ledger.Refused: A-17: 0.6 L asked for, and 500 mL are left; use what is left, or count the lot
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any, NamedTuple

from kb.base.errors import BadInput
from kb.stock.amounts import convert, text
from kb.stock.when import precedes

Event = Mapping[str, Any]


class Refused(BadInput):
    """An event that the lot's history doesn't allow."""


class Logged(NamedTuple):
    """A stretch of logged storage: its first and last moment, the days of life it cost (None: unknown)."""

    since: str
    until: str
    spent_days: float | None


class Lot(NamedTuple):
    """One container or delivery as it stands. Dates are canonical text; None where unknown or not happened.

    `accepted`: somebody decided, by a release or a test, that its storage as it is now will do.
    """

    lot: str
    item: str
    quantity: Decimal
    unit: str
    since: str
    received: str | None = None
    made: str | None = None
    expires: str | None = None
    storage_c: float | None = None
    location: str = ""
    gtin: str | None = None
    opened: str | None = None
    thawed: str | None = None
    mixed: str | None = None
    logged: tuple[Logged, ...] = ()
    excursion: str = ""
    accepted: bool = False
    requalified: str | None = None
    requalified_until: str | None = None
    condemned: str = ""
    last_at: str = ""


class Shelf(NamedTuple):
    """Every lot, in order of its first event, and the events behind each."""

    lots: dict[str, Lot]
    histories: dict[str, tuple[Event, ...]]


EMPTY = Shelf({}, {})


def fold(events: Iterable[Event], shelf: Shelf = EMPTY) -> Shelf:
    """`shelf` after `events`: the same whether they come all at once or in any number of chunks.

    Raises Refused at the first event that the history before it doesn't allow.
    """
    fresh: dict[str, list[Event]] = {}
    for event in events:
        fresh.setdefault(event["lot"], []).append(event)
    lots, histories = dict(shelf.lots), dict(shelf.histories)
    for mark, added in fresh.items():
        history = (*histories.get(mark, ()), *added)
        histories[mark] = history
        lots[mark] = _extend(lots.get(mark), added) if not _corrects(added) else replay(history)
    return Shelf(lots, histories)


def replay(history: Sequence[Event]) -> Lot:
    """The lot that the events of one lot make, corrections taken in."""
    return _extend(None, effective(history))


def effective(history: Sequence[Event]) -> Sequence[Event]:
    """The events of one lot as they should have been recorded; what is void, and the corrections, left out."""
    if not _corrects(history):
        return history
    right: dict[int, dict[str, Any]] = {}
    void: set[int] = set()
    for place, event in enumerate(history):
        if event["type"] != "corrected":
            right[event.get("id", -place)] = dict(event)
            continue
        target = event["corrects"]
        if target not in right:
            raise Refused(event["lot"], f"event {target} is not one that can be corrected", "see its history")
        right[target] |= event.get("change", {})
        if event.get("void") is not None:
            (void.add if event["void"] else void.discard)(target)
    return [event for number, event in right.items() if number not in void]


def _corrects(events: Iterable[Event]) -> bool:
    return any(event["type"] == "corrected" for event in events)


def _extend(lot: Lot | None, events: Iterable[Event]) -> Lot:
    mark = ""
    for event in events:
        mark = event["lot"]
        if lot is None:
            if event["type"] != "received":
                raise Refused(mark, "there is no such lot", "receive it first")
            lot = _received(event)
        else:
            if precedes(event["at"], lot.last_at):
                raise Refused(
                    mark,
                    f"{event['at']} is before the lot's last event ({lot.last_at})",
                    "give a later time and the true one as the reason",
                )
            lot = _RULES[event["type"]](lot, event)._replace(last_at=max(lot.last_at, event["at"]))
    if lot is None:
        raise Refused(mark, "every event of the lot is void", "keep its receipt, and count it as 0")
    return lot


def _received(event: Event) -> Lot:
    get = event.get
    return Lot(
        lot=event["lot"],
        item=event["item"],
        quantity=Decimal(event["quantity"]),
        unit=event["unit"],
        since=event["at"],
        received=get("received"),
        made=get("made"),
        expires=get("expires"),
        storage_c=get("storage_c"),
        location=get("location", ""),
        gtin=get("gtin"),
        last_at=event["at"],
    )


def _again(lot: Lot, event: Event) -> Lot:  # noqa: ARG001
    raise Refused(lot.lot, "there is a lot of that name already", f"name this one otherwise, such as '{lot.lot}-2'")


def _whole(lot: Lot, what: str, before: str | None) -> None:
    if lot.condemned:
        raise Refused(lot.lot, f"is condemned ({lot.condemned})")
    if lot.quantity == 0:
        raise Refused(lot.lot, "is empty", "count it if it isn't")
    if before is not None:
        raise Refused(lot.lot, f"was {what} already, {before}", "correct that event if it is wrong")


def _opened(lot: Lot, event: Event) -> Lot:
    _whole(lot, "opened", lot.opened)
    return lot._replace(opened=event["at"])


def _thawed(lot: Lot, event: Event) -> Lot:
    _whole(lot, "thawed", lot.thawed)
    return lot._replace(thawed=event["at"])


def _mixed(lot: Lot, event: Event) -> Lot:
    _whole(lot, "mixed", lot.mixed)
    return lot._replace(mixed=event["at"])


def _in_its_unit(lot: Lot, event: Event) -> Decimal:
    try:
        return convert(Decimal(event["quantity"]), event["unit"], lot.unit)
    except ValueError as error:
        raise Refused(lot.lot, str(error), f"give the amount in {lot.unit}") from None


def _used(lot: Lot, event: Event) -> Lot:
    if lot.condemned:
        raise Refused(lot.lot, f"is condemned ({lot.condemned})", "what is thrown away is counted as 0")
    left = lot.quantity - _in_its_unit(lot, event)
    if left < 0:
        asked, there = f"{event['quantity']} {event['unit']}", f"{text(lot.quantity)} {lot.unit}"
        raise Refused(lot.lot, f"{asked} asked for, and {there} are left", "use what is left, or count the lot")
    return lot._replace(quantity=left)


def _counted(lot: Lot, event: Event) -> Lot:
    return lot._replace(quantity=_in_its_unit(lot, event))


def _moved(lot: Lot, event: Event) -> Lot:
    return lot._replace(location=event["location"], storage_c=event.get("storage_c"), accepted=False)


def _temperature_logged(lot: Lot, event: Event) -> Lot:
    if lot.logged and event["since"] < lot.logged[-1].until:
        raise Refused(lot.lot, f"its storage is logged up to {lot.logged[-1].until} already")
    logged = (*lot.logged, Logged(event["since"], event["until"], event.get("spent_days")))
    found = event.get("excursion", "")
    return lot._replace(logged=logged, excursion=found or lot.excursion, accepted=lot.accepted and not found)


def _requalified(lot: Lot, event: Event) -> Lot:
    if lot.condemned:
        raise Refused(lot.lot, f"is condemned ({lot.condemned})", "condemned stock is not requalified")
    if event["until"] < event["at"][:10]:
        raise Refused(lot.lot, f"a new last day of {event['until']} is before the test ({event['at'][:10]})")
    return lot._replace(requalified=event["at"], requalified_until=event["until"], excursion="", accepted=True)


def _released(lot: Lot, event: Event) -> Lot:  # noqa: ARG001
    if lot.condemned:
        raise Refused(lot.lot, f"is condemned ({lot.condemned})", "condemned stock is not released")
    return lot._replace(excursion="", accepted=True)


def _condemned(lot: Lot, event: Event) -> Lot:
    if lot.condemned:
        raise Refused(lot.lot, f"is condemned already ({lot.condemned})")
    return lot._replace(condemned=event["reason"])


_RULES: dict[str, Callable[[Lot, Event], Lot]] = {
    "received": _again,
    "opened": _opened,
    "thawed": _thawed,
    "mixed": _mixed,
    "used": _used,
    "counted": _counted,
    "moved": _moved,
    "temperature-logged": _temperature_logged,
    "requalified": _requalified,
    "released": _released,
    "condemned": _condemned,
}
