"""The ledger: what is recorded in a store, the shelf that it makes, and the way in.

A command opens it, looks or records, and ends; a server keeps it open: what was folded before is gone on from, and what
other programs wrote meanwhile is taken in at each look. Threads may share one.

>>> from kb.stock.stores.memory import MemoryStore
>>> ledger = Ledger(MemoryStore())
>>> came = {"type": "received", "at": "2027-03-01", "who": "kim", "lot": "A-17", "item": "acetone",
...         "quantity": "500", "unit": "mL"}
>>> ledger.record([came], today="2027-03-01")[0]["id"], ledger.lot("A-17").quantity
(1, Decimal('500'))
>>> ledger.record([{"type": "used", "at": "2027-03-01", "who": "kim", "lot": "A-17", "quantity": "1", "unit": "L"}],
...               today="2027-03-01")
Traceback (most recent call last):
    ...
kb.stock.lots.Refused: A-17: 1 L asked for, and 500 mL are left; use what is left, or count the lot
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager
from threading import Lock
from typing import Any, cast

from kb.base.errors import BadInput, StoreError
from kb.stock import standing as standings
from kb.stock.fold import HistoryOf, Shelf, fold, no_history, no_such_lot, of_lot, shelf_on, spans
from kb.stock.lots import Event, Lot, Refused
from kb.stock.standing import KEPT_EVERY, Standing
from kb.stock.stores import Document, Draft, Entry, Once, Reader, Report, Store

VERIFY = "`stock verify` says more"


class Look:
    """The ledger at one moment: where it stands, and what is behind it."""

    def __init__(self, reader: Reader, standing: Standing) -> None:
        self._reader, self.standing = reader, standing

    @property
    def shelf(self) -> Shelf:
        return self.standing.shelf

    def history_of(self, lot: Lot) -> Sequence[Event]:
        """Give the events of a lot, under whichever name they were recorded. StoreError where one is missing."""
        names = {name for name, _, _ in spans(lot)}
        found = of_lot(lot, self._bodies("stock", names))
        if len(found) != lot.events:
            raise StoreError(lot.lot, f"has {len(found)} events of {lot.events}: the ledger is damaged", VERIFY)
        return found

    def documents(self, stream: str, about: Collection[str] | None = None) -> list[Document]:
        """Give the documents of a stream, about some things or all. StoreError where one is missing."""
        found = self._bodies(stream, about)
        if about is None and len(found) != self.standing.counts.get(stream, 0):
            raise StoreError(stream, "has fewer entries than were recorded: the ledger is damaged", VERIFY)
        return found

    def _bodies(self, stream: str, about: Collection[str] | None) -> list[Document]:
        reached = self.standing.head.seq
        return [entry.body for entry in self._reader.entries(stream, about) if entry.seq <= reached]

    def next_number(self, stream: str) -> int:
        return self.standing.last.get(stream, 0) + 1

    def admitted(self, drafts: Sequence[Mapping[str, Any]], today: str, ahead: bool = False, **own: Any) -> list[Draft]:
        """Give the events that are to be kept, where the ledger allows all of them. Raises BadInput."""
        # Looking builds no models: they take as long as all the rest of a command.
        from kb.stock.admission import admit

        number = self.next_number("stock")
        events, _ = admit(drafts, self.shelf, self.history_of, number, today, ahead, own)
        return [Draft("stock", event) for event in events]


class Ledger:
    """A store and the fold over it. `where` names the store, for what is kept of its fold and for messages."""

    def __init__(self, store: Store, where: str = "") -> None:
        self.store, self.where = store, where
        self._standing: Standing | None = None
        self._kept_at = 0
        self._lock = Lock()

    # -- looking

    @contextmanager
    def looking(self) -> Iterator[Look]:
        """Look at the ledger as it stands now."""
        before = self._standing
        with self.store.reading() as reader:
            look = self._look(reader, before)
            yield look
        self._keep(look.standing)

    def standing(self) -> Standing:
        """Say what the ledger comes to now."""
        with self.looking() as look:
            return look.standing

    def shelf(self, on: str = "", known: str = "") -> Shelf:
        """Give the shelf as it stands, or stood on the day `on`, by what had been recorded by the day `known`."""
        with self.looking() as look:
            found, history_of = look.shelf, cast(HistoryOf, look.history_of)
            if known:
                events = known_by(look.documents("stock"), known)
                found, history_of = fold(events), histories(events)
            return shelf_on(found, on, history_of) if on else found

    def lot(self, mark: str, on: str = "") -> Lot:
        """Give a lot as it stands, or stood; BadInput, with the near name, where there is none."""
        with self.looking() as look:
            lot = look.shelf.lots.get(mark)
            if lot is None:
                raise no_such_lot(mark, look.shelf)
            then = shelf_on(Shelf({mark: lot}), on, look.history_of).lots.get(mark) if on else lot
            if then is None:
                raise BadInput(mark, f"was not there yet on {on}", _came(lot))
            return then

    def chosen(self, marks: Sequence[str]) -> Shelf:
        """Give the lots named, in that order; without any, all that aren't empty. BadInput where one isn't there."""
        if marks:
            return Shelf({mark: self.lot(mark) for mark in marks})
        return Shelf({mark: lot for mark, lot in self.shelf().lots.items() if lot.quantity})

    def history(self, mark: str) -> list[Event]:
        """Give the events of a lot in the order of recording; BadInput where there are none."""
        with self.looking() as look:
            lot = look.shelf.lots.get(mark)
            found = [*(look.history_of(lot) if lot else look.documents("stock", {mark}))]
            if not found:
                raise no_such_lot(mark, look.shelf)
            return found

    def documents(self, stream: str) -> list[Document]:
        """Give all documents of a stream, in the order of recording."""
        with self.looking() as look:
            return look.documents(stream)

    # -- recording

    def append(self, decide: Callable[[Look], Sequence[Draft]], once: Once | None = None) -> list[Entry]:
        """Record what `decide` makes of the ledger as it stands: all of it or nothing."""
        looks: list[Look] = []
        before = self._standing

        def decided(reader: Reader) -> Sequence[Draft]:
            looks.append(self._look(reader, before))
            return decide(looks[-1])

        added = self.store.append(decided, once)
        self._keep(looks[-1].standing)
        return added

    def record(
        self, drafts: Sequence[Mapping[str, Any]], today: str, ahead: bool = False, once: Once | None = None
    ) -> list[Document]:
        """Record events, all or none; gives them as kept. Raises BadInput or StoreError, with nothing changed."""
        return [entry.body for entry in self.append(lambda look: look.admitted(drafts, today, ahead), once)]

    def rehearse(self, drafts: Sequence[Mapping[str, Any]], today: str, ahead: bool = False) -> list[Document]:
        """Give what `record` would keep, without its numbers; the same errors, and nothing written."""
        with self.looking() as look:
            return [without_number(draft.body) for draft in look.admitted(drafts, today, ahead)]

    # -- checking

    def verify(self) -> Report:
        """Check every byte and link of the store, every event's form, and what they add up to. Writes nothing."""
        report = self.store.verify()
        if report.problems:
            return report
        with self.store.reading() as reader:
            entries = reader.entries()
        found = list(_malformed(entries))
        try:
            anew = Standing().after(entries, no_history)
            now = self.standing()
            if not found and now.head == anew.head and now != anew:
                found.append("what was kept of the fold is not what the events add up to")
        except BadInput as fault:
            found.append(f"lot {fault}")
        return report + Report(len(entries), tuple(found))

    def _look(self, reader: Reader, before: Standing | None) -> Look:
        """Give a look that has caught up with the entries; what it took in is gone on from at the next.

        `before` was known before the reader's moment: another thread may have taken in meanwhile what came after it.
        """
        known = before or self._cached(reader) or Standing()
        head = reader.head()
        if head.seq < known.head.seq or reader.hash_at(known.head.seq) != known.head.hash:
            said = "is not the ledger that it was: entries are gone, or others are in their place"
            mend = "nothing was written; start the program anew if that is meant"
            raise StoreError(self.where or "ledger", said, mend)
        if head.seq > known.head.seq:
            try:
                known = known.after(reader.entries(after=known.head.seq), Look(reader, known).history_of)
            except BadInput as fault:
                raise StoreError(fault.where, fault.what, VERIFY) from None
        with self._lock:
            if self._standing is None or self._standing.head.seq <= known.head.seq:
                self._standing = known
        return Look(reader, known)

    def _cached(self, reader: Reader) -> Standing | None:
        found = standings.kept(self.where) if self.where else None
        if found is None or reader.hash_at(found.head.seq) != found.head.hash:
            return None
        self._kept_at = found.head.seq
        return found

    def _keep(self, standing: Standing) -> None:
        if self.where and standing.head.seq - self._kept_at >= KEPT_EVERY:
            standings.keep(self.where, standing)
            self._kept_at = standing.head.seq


def without_number(body: Document) -> Document:
    """Give a document as it is before it is kept."""
    return {name: value for name, value in body.items() if name != "id"}


def known_by(events: Sequence[Event], day: str) -> list[Event]:
    """Pick the events that had been recorded by the end of a day.

    Of what was taken over it isn't known when it was recorded: it counts from the day that it says. Where a clock
    ran wrong, so that what is left doesn't add up, all that came before the last of it is taken to have been known.
    """
    found = [event for event in events if event.get("recorded", event["at"][:10]) <= day]
    there = {event["id"] for event in found}
    found = [event for event in found if event.get("corrects") in (None, *there)]
    try:
        fold(found)
    except Refused:
        found = [event for event in events if event["id"] <= found[-1]["id"]]
    return found


def histories(events: Sequence[Event]) -> HistoryOf:
    """Find the history of a lot among events that are all at hand."""
    by_name: dict[str, list[Event]] = {}
    for event in events:
        by_name.setdefault(event["lot"], []).append(event)

    def history_of(lot: Lot) -> list[Event]:
        names = {name for name, _, _ in spans(lot)}
        return of_lot(lot, sorted((e for name in names for e in by_name.get(name, ())), key=lambda e: int(e["id"])))

    return history_of


def _came(lot: Lot) -> str:
    """Say since when a lot counts; its container may have stood there before anybody put it down."""
    if lot.received is None or lot.received >= lot.since:
        return f"it came on {lot.since}"
    return f"it came on {lot.received} and was put down on {lot.since}: correct that event's day, or give a later one"


def _malformed(entries: Sequence[Entry]) -> Iterator[str]:
    """Events that aren't in the form in which they are recorded."""
    from kb.stock.events import canonical

    for entry in entries:
        if entry.stream == "stock":
            try:
                if canonical(entry.body) != entry.body:
                    yield f"event {entry.body['id']}: is not in canonical form"
            except BadInput as fault:
                yield f"event {entry.body['id']}: {fault}"
