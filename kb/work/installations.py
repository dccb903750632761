"""What was made: installations with their lots, readings and outcome, and what jobs have reserved.

They are kept as the stock's events are, in a store of their own, one document for each record that was made. The
store files documents under `lot`; here that is the job's name. A record says what it took of each lot, and `settle`
writes those uses to the stock's ledger, once each: were the program to stop in between, the next record does it.

An installation may be recorded again (it was looked at again, or let go in service): the later outcome counts, and
the lots stay together.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from kb.base.errors import BadInput
from kb.engine.chain import Chain
from kb.stock.admission import record as record_stock
from kb.stock.admission import rehearse
from kb.stock.amounts import convert, text
from kb.stock.events import Amount, Line, Mark, Moment, Said, Unit
from kb.stock.log.store import Document, Report, Store
from kb.stock.log.tinystore import TinyStore
from kb.work.yields import Yield, learned

Reading = Annotated[float, Field(allow_inf_nan=False)]


class _Form(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Made(_Form):
    """One installation as it was found. Readings by quantity, in the unit of its limit; photos by reference."""

    installation: Mark
    part: Line = ""
    outcome: Literal["pass", "fail"]
    why: Line = ""
    lots: tuple[Mark, ...] = ()
    readings: dict[str, Reading] = Field(default_factory=dict)
    unmeasured: tuple[str, ...] = ()
    photo: Line = ""
    note: Line = ""


class Draw(_Form):
    """So much of a lot."""

    lot: Mark
    quantity: Amount
    unit: Unit


class Record(_Form):
    """Installations that were recorded together: of which chain, by whom, in what room, from which lots."""

    type: Literal["installed"] = "installed"
    lot: Said
    at: Moment
    who: Said
    reason: Line = ""
    again: bool = False
    chain: dict[str, str]
    items: dict[str, str] = Field(default_factory=dict, description="the item of each lot")
    draws: tuple[Draw, ...] = ()
    bench: dict[str, Reading] = Field(default_factory=dict)
    installations: tuple[Made, ...] = Field(min_length=1)


class Reservation(_Form):
    """What a job keeps for itself from now on, in place of what it kept before; nothing is a release."""

    type: Literal["reserved"] = "reserved"
    lot: Said
    at: Moment
    who: Said
    draws: tuple[Draw, ...] = ()


@dataclass
class Installation:
    """An installation with all that was recorded of it."""

    job: str
    name: str
    part: str
    outcome: str
    why: str
    at: str
    who: str
    chain: Mapping[str, str]
    lots: dict[str, str]
    readings: dict[str, float]
    unmeasured: tuple[str, ...]
    bench: dict[str, float] = field(default_factory=dict)
    photos: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    @property
    def failed(self) -> bool:
        return self.outcome == "fail"


def store_of(workspace: Path) -> TinyStore:
    """The workspace's store of installations and reservations, in `workspace`/installations."""
    return TinyStore(workspace / "installations")


def chain_key(chain: Chain) -> dict[str, str]:
    """What makes two chains the same: the item in each slot that is filled, and the cure."""
    from kb.rules.roles import SLOTS

    named = {slot: option.entry.id for slot, option in zip(SLOTS, chain.picks, strict=True) if option.entry}
    return {**named, "cure": str(chain.cure["id"])} if chain.cure else named


def valid(form: type[_Form], raw: Mapping[str, Any]) -> Document:
    """`raw` as the document to be stored. BadInput names the first field at fault."""
    try:
        return form.model_validate(raw).model_dump(mode="json", exclude_defaults=True) | {"type": raw["type"]}
    except ValidationError as error:
        fault = error.errors()[0]
        where = ".".join(str(step) for step in fault["loc"])
        raise BadInput(where, fault["msg"].removeprefix("Value error, ")) from None


# -- writing


def record(made: Store, stock: Store, raw: Mapping[str, Any]) -> Document:
    """Keep a record, and take what it used from the stock. Raises BadInput or StoreError with nothing recorded.

    An installation that was recorded before is refused, unless the record says `again`.
    """
    settle(made, stock)
    wanted = rehearse_record(made, stock, raw)
    [kept] = made.append({wanted["lot"]}, lambda history: [_admitted(wanted, history)])
    settle(made, stock)
    return kept


def rehearse_record(made: Store, stock: Store, raw: Mapping[str, Any]) -> Document:
    """What `record` would keep, without its id; the same errors, and nothing written."""
    wanted = _admitted(valid(Record, {**raw, "type": "installed"}), made.events({raw["lot"]}))
    if wanted.get("draws"):
        rehearse(stock, _uses(wanted, number=0))
    return wanted


def _admitted(wanted: Document, history: Iterable[Document]) -> Document:
    known = {one["installation"] for event in history for one in event.get("installations", ())}
    here = Counter(one["installation"] for one in wanted["installations"])
    twice = [name for name, count in here.items() if count > 1 or (name in known and not wanted.get("again"))]
    if twice:
        raise BadInput(f"installation {twice[0]}", "is recorded already", "--again with a --reason adds to it")
    if wanted.get("again") and not wanted.get("reason"):
        raise BadInput("--reason", "is missing", "say why it is recorded again")
    return wanted


def settle(made: Store, stock: Store) -> list[Document]:
    """Write to the stock's ledger what records took and it doesn't hold yet; the events that were added."""
    pending = [doc for doc in made.events() if doc.get("draws") and doc["type"] == "installed"]
    lots = {draw["lot"] for doc in pending for draw in doc["draws"]}
    done = _marks(stock.events(lots))
    return [event for doc in pending if _mark(doc["id"]) not in done for event in _take(stock, doc)]


def _take(stock: Store, doc: Document) -> list[Document]:
    """Write the uses of one record, unless somebody else has meanwhile."""
    mark = _mark(doc["id"])
    return record_stock(stock, _uses(doc, doc["id"]), lambda history: mark in _marks(history))


def _marks(history: Iterable[Mapping[str, Any]]) -> set[str]:
    """The marks of the records whose uses a history holds."""
    return {event.get("reason", "") for event in history if event["type"] == "used"}


def _mark(number: int) -> str:
    return f"record {number}"


def _uses(doc: Document, number: int) -> list[Document]:
    """The uses that a record asks for, one for each lot."""
    count = len(doc["installations"])
    said = {
        "job": doc["lot"],
        "installation": f"{count} of them" if count > 1 else doc["installations"][0]["installation"],
    }
    return [
        {"type": "used", "at": doc["at"], "who": doc["who"], "reason": _mark(number), **said, **draw}
        for draw in doc["draws"]
    ]


def reserve(made: Store, job: str, draws: Iterable[tuple[str, Decimal, str]], at: str, who: str) -> Document:
    """Keep so much of each lot for a job, in place of what it kept before; without any, let it go."""
    rows = [{"lot": lot, "quantity": text(amount), "unit": unit} for lot, amount, unit in draws]
    wanted = valid(Reservation, {"type": "reserved", "lot": job, "at": at, "who": who, "draws": rows})
    return made.append({job}, lambda _: [wanted])[0]


# -- reading


def verify(workspace: Path, stock: Store) -> Report:
    """Check every byte and document of the records, and that the stock's ledger holds what they took."""
    from kb.stock.log.inspection import inspect

    store = store_of(workspace)
    if not store.storage.head_path.exists():
        return Report(0)
    return inspect(store.storage, lambda documents: _faults(documents, stock))


def _faults(documents: list[Document], stock: Store) -> Iterator[str]:
    forms: dict[str, type[_Form]] = {"installed": Record, "reserved": Reservation}
    done = _marks(stock.events())
    for doc in documents:
        name, own = f"record {doc['id']}", {key: value for key, value in doc.items() if key != "id"}
        try:
            if own.get("type") not in forms or valid(forms[own["type"]], own) != own:
                yield f"{name}: is not in canonical form"
        except BadInput as fault:
            yield f"{name}: {fault}"
        if own.get("draws") and own.get("type") == "installed" and _mark(doc["id"]) not in done:
            yield f"{name}: what it took is not in the stock's ledger; the next record puts it there"


def reserved(events: Iterable[Document], apart_from: str = "") -> dict[str, tuple[Decimal, str]]:
    """What is still reserved of each lot, in one of its units, by other jobs than the one named.

    What a job records as used comes off its reservation.
    """
    by_job: dict[str, dict[str, tuple[Decimal, str]]] = {}
    for event in events:
        held = by_job.setdefault(event["lot"], {})
        if event["type"] == "reserved":
            held.clear()
        for draw in event.get("draws", ()):
            amount, unit = Decimal(draw["quantity"]), draw["unit"]
            if event["type"] == "reserved":
                before = held.get(draw["lot"], (Decimal(0), unit))
                held[draw["lot"]] = (before[0] + convert(amount, unit, before[1]), before[1])
            elif draw["lot"] in held:
                kept, its = held[draw["lot"]]
                held[draw["lot"]] = (max(Decimal(0), kept - convert(amount, unit, its)), its)
    totals: dict[str, tuple[Decimal, str]] = {}
    for job, held in by_job.items():
        for lot, (amount, unit) in held.items() if job != apart_from else ():
            before = totals.get(lot, (Decimal(0), unit))
            totals[lot] = (before[0] + convert(amount, unit, before[1]), before[1])
    return {lot: kept for lot, kept in totals.items() if kept[0]}


def installations(events: Iterable[Document]) -> list[Installation]:
    """Every installation, in the order in which each was first recorded; later records taken in."""
    found: dict[tuple[str, str], Installation] = {}
    for event in events:
        for one in event.get("installations", ()):
            key = (event["lot"], one["installation"])
            known = found.get(key)
            if known is None:
                known = found[key] = Installation(*key, "", "", "", "", "", {}, {}, {}, ())
            _take_in(known, event, one)
    return list(found.values())


def _take_in(known: Installation, event: Document, one: Mapping[str, Any]) -> None:
    known.part = one.get("part") or known.part
    known.outcome, known.why = one["outcome"], one.get("why", "")
    known.at, known.who, known.chain = event["at"], event["who"], event["chain"]
    known.lots |= {lot: event["items"][lot] for lot in one.get("lots", ())}
    known.readings |= one.get("readings", {})
    known.bench |= event.get("bench", {})
    known.unmeasured = tuple(name for name in one.get("unmeasured", ()) if name not in known.readings)
    known.photos += [one["photo"]] if one.get("photo") else []
    known.notes += [said for said in (one.get("note"), event.get("reason") if event.get("again") else "") if said]


def learned_yield(events: Iterable[Document], chain: Mapping[str, str], expected: float) -> Yield:
    """What the records say of a chain's yield, in every job; `expected` is what the job believes."""
    outcomes = [one.outcome for one in installations(events) if one.chain == chain]
    return learned(outcomes.count("pass"), outcomes.count("fail"), expected)
