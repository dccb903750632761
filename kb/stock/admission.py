"""The door of the ledger: only events that are well formed, that the lot's history allows, and of a sane date.

>>> from kb.stock.fold import EMPTY, no_history
>>> came = {"type": "received", "at": "2027-03-01", "who": "kim", "lot": "A-17", "item": "acetone",
...         "quantity": "500", "unit": "mL"}
>>> [kept], shelf = admit([came], EMPTY, no_history, 1, today="2027-03-01")
>>> kept["id"], kept["recorded"], shelf.lots["A-17"].unit
(1, '2027-03-01', 'mL')
>>> admit([{**came, "at": "2062-03-01"}], EMPTY, no_history, 1, today="2027-03-01")
Traceback (most recent call last):
    ...
kb.base.errors.BadInput: at: 2062-03-01 is too far ahead of today (2027-03-01); give the day on which it happened
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import timedelta
from typing import Any

from kb.base.errors import BadInput
from kb.stock.events import canonical, checked
from kb.stock.fold import HistoryOf, Shelf, fold
from kb.stock.lots import Event, Refused
from kb.stock.practice import figure
from kb.stock.stores import Document
from kb.stock.when import as_date


def admit(
    drafts: Sequence[Mapping[str, Any]],
    shelf: Shelf,
    history_of: HistoryOf,
    number: int,
    today: str,
    ahead: bool = False,
    own: Mapping[str, Any] | None = None,
) -> tuple[list[Document], Shelf]:
    """Give the events to be kept, numbered from `number` on, and the shelf after them.

    With `ahead`, dates ahead of `today` are meant; even so they have a bound. `own` is what the program says of all
    of them, as the record that they belong to. Raises BadInput.
    """
    events: list[Document] = []
    for place, draft in enumerate(drafts):
        where = f"event {place + 1} (lot {draft.get('lot')})" if len(drafts) > 1 else ""
        event = {"id": number + place, **checked(draft, where)}
        must_be_dated_sanely(event, where, today, ahead)
        event |= {"recorded": today, **(own or {})}
        if event["type"] == "corrected":
            event = _canonical_correction(event, shelf, history_of, events)
            must_be_dated_sanely(event.get("change", {}), f"event {event['corrects']} corrected", today, ahead)
        events.append(event)
    return events, fold(events, shelf, history_of)


def must_be_dated_sanely(event: Mapping[str, Any], where: str, today: str, ahead: bool) -> None:
    """Raise BadInput where an event is dated ahead of today and nobody meant it, or further ahead than any is."""
    most = (as_date(today) + timedelta(days=figure("dates", "ahead_days"))).isoformat()
    for name in ("at", "received"):
        moment, place = event.get(name), f"{where}: {name}" if where else name
        if moment and moment[:10] > most:
            said = f"{moment} is too far ahead of today ({today})"
            raise BadInput(place, said, "give the day on which it happened")
        if moment and moment[:10] > today and not ahead:
            said = f"{moment} is ahead of today ({today})"
            raise BadInput(place, said, "give the day on which it happened, or --ahead if it is meant")
    made, at = event.get("made"), event.get("at")
    if made and at and made > at[:10]:
        what = f"{made} is after the day of this event ({at[:10]})"
        raise BadInput(f"{where}: made" if where else "made", what, "read the container again")


def _canonical_correction(event: Document, shelf: Shelf, history_of: HistoryOf, before: Iterable[Event]) -> Document:
    """Give the correction with its changed values in canonical form, where the corrected event stays well formed."""
    number, mark = event["corrects"], event["lot"]
    lot = shelf.lots.get(mark)
    history = [*(history_of(lot) if lot else ()), *(e for e in before if e["lot"] == mark)]
    target: dict[str, Any] = {}
    for earlier in history:
        if earlier["id"] == number:
            target = dict(earlier)
        elif earlier["type"] == "corrected" and earlier["corrects"] == number:
            target |= earlier.get("change", {})
    if not target or target["type"] in ("corrected", "renamed"):
        mend = "record what is right" if target else "see `stock history`"
        raise Refused(mark, f"has no event {number} that can be corrected", mend)
    change = event.get("change", {})
    wanted = {name: value for name, value in (target | change).items() if value is not None}
    right = canonical(wanted, f"event {number} corrected")
    return event | {"change": {name: right.get(name) for name in change}} if change else event
