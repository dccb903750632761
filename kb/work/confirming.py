"""What a lab has confirmed of its items: values with their source, kept as events and taken back by events.

A value counts in the place of the class's from the moment at which it is stated or, where the lab asks for that, seen
by a second person; until the day that it was given for, a newer issue of its sheet, or another lot.

>>> stated = {"id": 1, "type": "stated", "fact": "acetone.flash_point_c", "item": "acetone", "value": -19.0,
...           "at": "2027-03-01", "who": "kim", "kind": "data-sheet", "issued": "2026-03-01"}
>>> [found] = confirmations([stated])
>>> found.standing("2027-03-02", second=True), found.standing("2027-03-02", second=False)
('it waits for a second person', '')
>>> [found] = confirmations([stated, {"id": 2, "type": "seen", "fact": "acetone.flash_point_c", "of": 1, "who": "lee"}])
>>> found.standing("2027-03-02", second=True), found.words()
('', 'your data sheet of 2026-03-01, seen by kim and lee')
>>> taken_back = {"id": 3, "type": "undone", "fact": "acetone.flash_point_c", "of": 1, "who": "lee"}
>>> confirmations([stated, taken_back]), len(confirmations([stated, taken_back, {**taken_back, "id": 4, "of": 3}]))
([], 1)
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal, NamedTuple

from pydantic import BaseModel, ConfigDict, Field, model_validator

from kb.base.documents import Documents
from kb.base.errors import BadInput
from kb.knowledge.spreads import ends
from kb.rules.values import Told, value_of
from kb.rules.words import shown
from kb.stock.event_fields import Day, Line, Moment, Number, Said
from kb.stock.fold import Shelf
from kb.stock.ledger import Ledger, Look
from kb.stock.stores import Document, Draft
from kb.work.forms import kept as kept_form

if TYPE_CHECKING:
    from kb.knowledge import Knowledge
    from kb.planning.hangs_on import Hang

STREAM = "confirmed"
#: What a value rests on that the lab has confirmed.
CONFIRMED = "confirmed"
#: The lab's setting, among its documents: whether a second person must have seen a value.
_TABLE, _KEY, _SETTING = "settings", "name", "confirm-by-two"
_SOURCES = {"data-sheet": "data sheet", "own-test": "own test", "certificate": "certificate"}
_Reading = Annotated[float, Field(allow_inf_nan=False)]


class _Form(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")

    id: Number | None = None
    recorded: Day | None = None
    fact: Said
    at: Moment
    who: Said


class Stated(_Form):
    """A value of a fact, with the source that it was read in or measured by."""

    type: Literal["stated"] = "stated"
    item: Said
    value: float | bool | str | tuple[float | str, ...]
    kind: Literal["data-sheet", "own-test", "certificate"]
    reference: Line = ""
    issued: Day | None = None
    readings: tuple[_Reading, ...] = ()
    lot: Line = ""
    until: Day | None = None

    @model_validator(mode="after")
    def _sourced(self) -> Stated:
        if self.kind == "own-test" and not self.readings:
            raise ValueError("readings: an own test has at least one")
        if self.kind != "own-test" and self.issued is None:
            raise ValueError(f"issued: a {_SOURCES[self.kind]} has a day of issue")
        return self


class Seen(_Form):
    """A second person has seen a value in its source."""

    type: Literal["seen"] = "seen"
    of: Number


class Undone(_Form):
    """Another event never happened; of one that says so, that it did."""

    type: Literal["undone"] = "undone"
    of: Number
    reason: Said


class Reissued(_Form):
    """A newer sheet of an item is there: what was read in an older one no longer counts. `fact` is the item."""

    type: Literal["reissued"] = "reissued"
    issued: Day


_FORMS: Mapping[str, type[_Form]] = {"stated": Stated, "seen": Seen, "undone": Undone, "reissued": Reissued}


@dataclass(frozen=True)
class Confirmation:
    """The value of a fact that was stated last, who has seen it, and what has come since."""

    body: Document
    seen_by: tuple[str, ...] = ()
    reissued: str = ""
    #: Other lots of the item that are in stock, where the value is one lot's; None: nobody has looked.
    other_lots: Collection[str] | None = None

    @property
    def fact(self) -> str:
        return str(self.body["fact"])

    @property
    def field(self) -> str:
        return self.fact.removeprefix(f"{self.body['item']}.")

    def standing(self, today: str, second: bool) -> str:
        """Say why the value doesn't count on a day; "" where it does. `second`: two must have seen it."""
        if second and not self.seen_by:
            return "it waits for a second person"
        if self.body.get("until", "9") < today:
            return f"it held until {self.body['until']}"
        if self.reissued > self.body.get("issued", "9"):
            return f"a newer sheet, of {self.reissued}, is there"
        if self.other_lots:
            return f"it is of lot {self.body['lot']}, and {', '.join(sorted(self.other_lots))} is in stock"
        return ""

    def words(self) -> str:
        """Say what the value rests on."""
        body = self.body
        when = f" of {body['issued'] if 'issued' in body else body['at'][:10]}"
        count = len(body.get("readings", ()))
        readings = f", {count} reading{'s' * (count > 1)}" if count else ""
        lot = f", lot {body['lot']}" if body.get("lot") else ""
        seen = f", seen by {' and '.join((body['who'], *self.seen_by))}" if self.seen_by else ""
        return f"your {_SOURCES[body['kind']]}{when}{readings}{lot}{seen}"


def confirmations(events: Iterable[Document]) -> list[Confirmation]:
    """Fold the events into what is stated now, fact by fact in the order of their names."""
    every = list(events)
    void: set[int] = set()
    for event in reversed(every):
        if event["type"] == "undone" and event["id"] not in void:
            void.add(event["of"])
    kept = [event for event in every if event["id"] not in void]
    stated = {event["fact"]: event for event in kept if event["type"] == "stated"}
    newest: dict[str, str] = {}
    for event in kept:
        if event["type"] == "reissued":
            newest[event["fact"]] = max(newest.get(event["fact"], ""), event["issued"])
    return [
        Confirmation(
            body,
            tuple(dict.fromkeys(e["who"] for e in kept if e["type"] == "seen" and e["of"] == body["id"])),
            newest.get(body["item"], ""),
        )
        for _, body in sorted(stated.items())
    ]


def checked(raw: Mapping[str, Any]) -> Document:
    """Give an event as it is kept, without what says nothing. BadInput names the field."""
    return kept_form(_FORMS[raw["type"]], raw, "confirm")


def record(ledger: Ledger, said: Mapping[str, Any], today: str) -> Document:
    """Keep an event. BadInput where it is about no event that is there, or by the one who stated what it has seen."""

    def decide(look: Look) -> list[Draft]:
        draft = {**said, "id": look.next_number(STREAM), "recorded": today}
        if "of" in said:
            about = next((e for e in look.documents(STREAM) if e["id"] == said["of"]), None)
            if about is None:
                raise BadInput(f"event {said['of']}", "there is no such event", "see `confirm list`")
            if said["type"] == "seen" and about["type"] != "stated":
                raise BadInput(f"event {said['of']}", "states no value", "see `confirm list`")
            if said["type"] == "seen" and about["who"] == said["who"]:
                raise BadInput("--who", f"{said['who']} has stated it", "a second person has to see it")
            draft["fact"] = about["fact"]
        return [Draft(STREAM, checked(draft))]

    return ledger.append(decide)[0].body


def kept(ledger: Ledger) -> list[Confirmation]:
    """Give what a ledger holds as stated, with the other lots that are in stock where a value is one lot's."""
    with ledger.store.reading() as reader:
        found = confirmations(entry.body for entry in reader.entries(STREAM))
    if not any(one.body.get("lot") for one in found):
        return found
    lots = [lot for lot in ledger.shelf().lots.values() if lot.quantity]

    def others(one: Confirmation) -> set[str]:
        return {lot.lot for lot in lots if lot.item == one.body["item"] and lot.lot != one.body["lot"]}

    return [Confirmation(o.body, o.seen_by, o.reissued, others(o)) if o.body.get("lot") else o for o in found]


def by_two(workspace: Path) -> bool:
    """Tell whether the lab asks that two people have seen a value."""
    return (Documents(workspace).row(_TABLE, _KEY, _SETTING) or {}).get("value") is True


def ask_two(workspace: Path, wanted: bool) -> None:
    """Set whether two people must have seen a value."""
    Documents(workspace).put(_TABLE, _KEY, {_KEY: _SETTING, "value": wanted})


def told(found: Iterable[Confirmation], today: str, second: bool) -> dict[str, list[Told]]:
    """Give, by item, the values that count today."""
    values: dict[str, list[Told]] = {}
    for one in found:
        if not one.standing(today, second):
            value = one.body["value"]
            row = Told(one.field, tuple(value) if isinstance(value, list) else value, CONFIRMED, one.words())
            values.setdefault(one.body["item"], []).append(row)
    return values


def stated(known: Knowledge, setting: str, beyond: bool = False) -> dict[str, Any]:
    """Give the beginning of an event that states ITEM.FIELD=VALUE, the value checked and in its field's unit.

    BadInput for what is no fact; and, unless `beyond` is said, for a value outside of what its class spreads.
    """
    from kb.knowledge.stating import checked as value_checked
    from kb.planning.supposed import fact_of

    entry, name, text = fact_of(setting, known, "confirm state")
    value = value_checked(entry, name, text, "confirm state")
    now, far = value_of(entry.facts, name), ends(entry.facts, name, known.tables["spreads"])
    if far and not beyond and not _within(value, now, far):
        span = f"{min((now, *far)):g} to {max((now, *far)):g}" if isinstance(now, float) else ", ".join((now, *far))
        said = f"{entry.id}.{name} = {shown(value)} lies outside of its class ({span})"
        raise BadInput("confirm state", said, "read the source again; --beyond where it is so")
    return {"type": "stated", "fact": f"{entry.id}.{name}", "item": entry.id, "value": value}


def _within(value: Any, now: Any, far: Sequence[Any]) -> bool:
    if isinstance(value, str) or isinstance(now, str):
        return value in (now, *far)
    return bool(min((now, *far)) <= value <= max((now, *far)))


class OpenFact(NamedTuple):
    """A fact that answers hang on: for how many jobs, in how many lots and records its item stands."""

    fact: str
    value: Any
    basis: str
    jobs: int
    lots: int
    records: int

    def words(self) -> str:
        """Say how much hangs on it."""
        told = ((self.jobs, "job"), (self.lots, "lot"), (self.records, "record"))
        return ", ".join(f"{count} {name}{'s' * (count > 1)}" for count, name in told if count)


def open_facts(answers: Iterable[Sequence[Hang]], shelf: Shelf, records: Iterable[Document]) -> list[OpenFact]:
    """List what answers hang on and nobody has confirmed, what most hangs on first."""
    lots = Counter(lot.item for lot in shelf.lots.values() if lot.quantity)
    made = Counter(item for one in records if one["type"] == "installed" for item in set(one["chain"].values()))
    jobs: Counter[str] = Counter()
    first: dict[str, Hang] = {}
    for hangs in answers:
        for hang in {hang.fact: hang for hang in hangs if hang.basis != CONFIRMED}.values():
            jobs[hang.fact] += 1
            first.setdefault(hang.fact, hang)
    rows = [
        OpenFact(fact, hang.value, hang.basis, jobs[fact], lots[hang.entry.id], made[hang.entry.id])
        for fact, hang in first.items()
    ]
    return sorted(rows, key=lambda row: (-row.jobs, -(row.lots + row.records), row.fact))
