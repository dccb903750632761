"""The fold: events to lots. It is pure, and gives the same whether they come all at once or in any number of chunks.

Events are numbered in the order of recording; what counts is the order in which they happened. One that is recorded
late takes its place by its own date, and the lot is folded again: what it would make impossible is said. Within a day
times decide; an event without a time comes after all that was recorded before it of that day. A correction is itself
an event: it names the one that was recorded wrongly, and the lot is folded as if that one had been right.

>>> came = {"id": 1, "type": "received", "at": "2027-03-01", "who": "kim", "lot": "A-17", "item": "acetone",
...         "quantity": "500", "unit": "mL"}
>>> used = {"id": 2, "type": "used", "at": "2027-03-05", "who": "kim", "lot": "A-17", "quantity": "0.4", "unit": "L"}
>>> fold([came, used]).lots["A-17"].quantity
Decimal('100.0')
>>> fold([came, used, {**used, "id": 3, "at": "2027-03-02", "quantity": "0.2"}])
Traceback (most recent call last):
    ...
kb.stock.lots.Refused: A-17: with it event 2 of 2027-03-05 no longer adds up: 0.4 L asked for, and 300 mL are left; \
undo that event, or record what is right
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from typing import NamedTuple

from kb.base.errors import nearest
from kb.stock.lots import Event, Lot, Refused, after, received
from kb.stock.when import precedes

#: No event has a number beyond this.
LAST = 10**15
#: The events of a lot of the shelf that a fold goes on from, in the order of recording.
HistoryOf = Callable[[Lot], Sequence[Event]]


class Shelf(NamedTuple):
    """Every lot by its present name, in the order of receipt."""

    lots: dict[str, Lot]


EMPTY = Shelf({})


def no_history(lot: Lot) -> Sequence[Event]:
    """Stand for the histories of a shelf that holds nothing."""
    raise LookupError(lot.lot)


def fold(events: Iterable[Event], shelf: Shelf = EMPTY, history_of: HistoryOf = no_history) -> Shelf:
    """Give `shelf` after `events`. Raises Refused at the first that the events before it don't allow."""
    run = Folding(shelf, history_of)
    for event in events:
        run.take(event)
    return Shelf(run.lots)


def no_such_lot(mark: str, shelf: Shelf, jobs: Collection[str] | None = None) -> Refused:
    """Make the fault of a lot that isn't there, or of such a job; with the name that may be meant."""
    renamed = next((lot.lot for lot in shelf.lots.values() if any(mark == name for name, _ in lot.names)), None)
    if renamed:
        return Refused(mark, "there is no such lot", f"it is called '{renamed}' now")
    elsewhere = "see `stock list`" if shelf.lots else "receive it first"
    said = "there is no such lot" if jobs is None else "there is no such lot, and no work on such a job is recorded"
    return Refused(mark, said, nearest(mark, [*shelf.lots, *(jobs or ())]) or elsewhere)


def shelf_on(shelf: Shelf, on: str, history_of: HistoryOf) -> Shelf:
    """Give the shelf as it stood at the end of a day, or at a time of it; lots that came later are not on it."""
    lots: dict[str, Lot] = {}
    for mark, lot in shelf.lots.items():
        if not precedes(on, lot.last_at):
            lots[mark] = lot
        elif (then := replay(history_of(lot), on)) is not None:
            lots[mark] = _named_as(lot, then)
    return Shelf(lots)


def replay(history: Sequence[Event], until: str | None = None) -> Lot | None:
    """Fold all events of one lot, corrections taken in; None where none is left of them.

    With `until`, those that happened after that day, or time of a day, are left out.
    """
    lot = None
    for event in in_order(effective(history)):
        if until is not None and precedes(until, event["at"]):
            break
        if lot is not None:
            lot = after(lot, event)
        elif event["type"] == "received":
            lot = received(event)
        else:
            fault = Refused(
                event["lot"], f"{event['at']} is before the lot was received", "correct its receipt, or this"
            )
            fault.event = event
            raise fault
    return lot


def effective(history: Sequence[Event]) -> list[Event]:
    """Give the events of one lot as they should have been recorded: what is void, and what corrects, left out."""
    right: dict[int, Event] = {}
    void: set[int] = set()
    for place, event in enumerate(history):
        if event["type"] == "corrected":
            target = event["corrects"]
            if target not in right:
                raise Refused(event["lot"], f"has no event {target} that can be corrected", "see `stock history`")
            right[target] = {**right[target], **event.get("change", {})}
            if event.get("void") is not None:
                (void.add if event["void"] else void.discard)(target)
        elif event["type"] != "renamed":
            right[event.get("id", -place)] = event
    return [event for number, event in right.items() if number not in void]


def in_order(events: Sequence[Event]) -> list[Event]:
    """Put events of one lot, given in the order of recording, in the order in which they happened."""
    reached: dict[str, str] = {}
    places: list[tuple[str, str, int]] = []
    for place, event in enumerate(events):
        day, time = event["at"][:10], event["at"][10:]
        time = time or reached.get(day, "")
        reached[day] = max(time, reached.get(day, ""))
        places.append((day, time, place))
    return [events[place] for _, _, place in sorted(places)]


class Folding:
    """A fold under way: the lots so far, and the events of each that are not part of the shelf that it began with."""

    def __init__(self, shelf: Shelf = EMPTY, history_of: HistoryOf = no_history) -> None:
        self.lots = dict(shelf.lots)
        self._before, self._history_of = dict(shelf.lots), history_of
        self._fresh: dict[str, list[Event]] = {}

    def take(self, event: Event) -> None:
        """Go on by one event. Raises Refused where those before it don't allow it."""
        mark, kind = event["lot"], event["type"]
        lot = self.lots.get(mark)
        if lot is None and kind != "received":
            raise no_such_lot(mark, Shelf(self.lots))
        self._fresh.setdefault(mark, []).append(event)
        if lot is None:
            found: Lot | None = received(event)
        elif kind == "renamed":
            self._rename(lot, event)
            return
        elif kind == "corrected" or (kind != "received" and precedes(event["at"], lot.last_at)):
            found = self._again(lot, event)
        else:
            found = after(lot, event)
        if found is None:
            # Its receipt is void: it never was, and its name is free.
            for kept in (self.lots, self._before, self._fresh):
                kept.pop(mark, None)
        else:
            self.lots[mark] = found._replace(events=1 if lot is None else lot.events + 1)

    def _again(self, lot: Lot, event: Event) -> Lot | None:
        """Give the lot folded anew, with an event that doesn't come last."""
        before = self._before.get(lot.lot)
        history = [*(self._history_of(before) if before else ()), *self._fresh[lot.lot]]
        try:
            found = replay(history)
        except Refused as fault:
            late = fault.event
            if late is None or late.get("id") == event.get("id"):
                raise
            said = f"with it event {late.get('id')} of {late['at']} no longer adds up: {fault.what}"
            raise Refused(lot.lot, said, "undo that event, or record what is right") from None
        return None if found is None else _named_as(lot, found)

    def _rename(self, lot: Lot, event: Event) -> None:
        old, new = lot.lot, event["to"]
        if new in self.lots:
            raise Refused(new, "there is a lot of that name already", "choose another")
        names = (*lot.names, (old, event.get("id", 0)))
        renamed = lot._replace(lot=new, names=names, events=lot.events + 1)
        self.lots = {new if mark == old else mark: renamed if mark == old else kept for mark, kept in self.lots.items()}
        self._fresh[new] = self._fresh.pop(old)
        if old in self._before:
            self._before[new] = self._before.pop(old)


def _named_as(lot: Lot, found: Lot) -> Lot:
    """Give `found`, which was folded anew, with the name and the marks that the lot has."""
    return found._replace(lot=lot.lot, names=lot.names, begun=lot.begun, events=lot.events)


def spans(lot: Lot) -> Iterator[tuple[str, int, int | None]]:
    """Say under which names a lot's events were recorded: each with the first and the last number it may have."""
    first = lot.begun
    for name, last in lot.names:
        yield name, first, last
        first = last + 1
    yield lot.lot, first, None


def of_lot(lot: Lot, events: Iterable[Event]) -> list[Event]:
    """Pick the events of a lot out of those recorded under its names: two lots may have borne one name in turn."""
    bounds = list(spans(lot))
    return [
        event
        for event in events
        if any(
            name == event["lot"] and first <= event["id"] and (last is None or event["id"] <= last)
            for name, first, last in bounds
        )
    ]


def present_names(shelf: Shelf) -> Callable[[str, int], str]:
    """Find what a lot is called now, from a name and the number of an event that was recorded under it; "": it is gone.

    >>> came = {"id": 1, "type": "received", "at": "2027-03-01", "lot": "A-71", "item": "x"}
    >>> right = {"id": 2, "type": "renamed", "at": "2027-03-02", "lot": "A-71", "to": "A-17"}
    >>> now = present_names(fold([{**came, "quantity": "5", "unit": "g"}, right]))
    >>> now("A-71", 1), now("A-17", 3), now("A-71", 3)
    ('A-17', 'A-17', '')
    """
    borne: dict[str, list[tuple[int, int, str]]] = {}
    for mark, lot in shelf.lots.items():
        for name, first, last in spans(lot):
            borne.setdefault(name, []).append((first, last or LAST, mark))

    def now(name: str, number: int) -> str:
        return next((mark for first, last, mark in borne.get(name, ()) if first <= number <= last), "")

    return now
