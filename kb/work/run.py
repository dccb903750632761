"""A run of the bench: what happened in it, and the record that comes of it.

What happened is only ever added to, under keys that the device gives: sent again, it is kept once. So a device may be
without the network for an hour, and a colleague may go on where another stopped.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from kb.base.errors import BadInput
from kb.engine.chain import Chain
from kb.planning.procedure import Step
from kb.quantities.estimate import Estimate
from kb.stock.flags import FactsOf
from kb.stock.ledger import Ledger, Look
from kb.stock.receiving import may_use
from kb.stock.stores import Document, Draft, Once
from kb.work import recording
from kb.work.drawing import draws
from kb.work.forms import checked
from kb.work.recording import limits_of, made

Event = Mapping[str, Any]


def happened(ledger: Ledger, run: str) -> list[Event]:
    """Give what is known of a run, each thing once, in the order in which it came."""
    return list(_happened(ledger.documents("work"), run).values())


def _happened(documents: Iterable[Document], run: str) -> dict[str, Event]:
    found: dict[str, Event] = {}
    for document in documents:
        if document["type"] == "ran" and document["run"] == run:
            for event in document["happened"]:
                found.setdefault(event["key"], event)
    return found


def keep(ledger: Ledger, job: str, run: str, events: Sequence[Event], today: str) -> list[str]:
    """Keep what happened and isn't kept yet; the keys of all that is kept now. BadInput names what can't be."""
    if not events:
        return list(_happened(ledger.documents("work"), run))

    def decide(look: Look) -> list[Draft]:
        known = _happened(look.documents("work"), run)
        new = {str(event.get("key")): event for event in events if event.get("key") not in known}
        if not new:
            return []
        head = {"id": look.next_number("work"), "type": "ran", "job": job, "run": run, "recorded": today}
        first = next(iter(new.values()))
        said = {"at": first.get("at"), "who": first.get("who"), "happened": list(new.values())}
        return [Draft("work", checked({**head, **said}))]

    ledger.append(decide)
    return list(_happened(ledger.documents("work"), run))


@dataclass
class Fold:
    """What a run's events come to, for each installation by its name."""

    lots: dict[str, list[str]] = field(default_factory=dict)
    readings: dict[str, dict[str, float]] = field(default_factory=dict)
    failed: dict[str, str] = field(default_factory=dict)
    outcomes: dict[str, str] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    room: dict[str, float] = field(default_factory=dict)
    times: list[dict[str, Any]] = field(default_factory=list)
    #: The part that each is on; where nothing is said of one, the part of the whole run.
    parts: dict[str, str] = field(default_factory=dict)
    part: str = ""
    #: When each lot was last used.
    used: dict[str, str] = field(default_factory=dict)
    #: Why it is to be recorded although a lot was used that must not be.
    anyway: str = ""


def standing(events: Sequence[Event]) -> Iterator[Event]:
    """Give the events that were not taken back: an undoing names the key of what it undoes."""
    undone = {event["note"] for event in events if event["kind"] == "undo"}
    return (event for event in events if event["key"] not in undone)


def fold(events: Sequence[Event], steps: Sequence[Step]) -> Fold:
    """Work out what was done. A lot goes on all that is done with its item from then on, until another is taken."""
    found, taken = Fold(), dict[str, str]()
    for event in standing(events):
        kind, names = event["kind"], event.get("installations", ())
        if kind == "lot":
            taken[event["item"]] = event["lot"]
        elif kind == "room":
            found.room[event["name"]] = event["value"]
        elif kind == "reading":
            for name in names:
                found.readings.setdefault(name, {})[event["name"]] = event["value"]
        elif kind == "outcome":
            found.outcomes |= dict.fromkeys(names, event["note"])
        elif kind == "anyway":
            found.anyway = event["note"]
        elif kind == "part":
            found.parts |= dict.fromkeys(names, event["note"])
        elif kind == "fail":
            found.failed |= dict.fromkeys(names, event.get("note", ""))
        elif kind in ("note", "early"):
            found.notes.append(event.get("note", ""))
        elif kind == "end":
            found.part = event.get("note", "")
        elif kind == "done":
            _done(found, event, steps, taken)
    return found


def _done(found: Fold, event: Event, steps: Sequence[Step], taken: Mapping[str, str]) -> None:
    number = event["step"]
    if not 1 <= number <= len(steps):
        raise BadInput("step", f"{number} is none of the {len(steps)} of this chain", "the knowledge has changed")
    step = steps[number - 1]
    lot = taken.get(step.item or "")
    if lot:
        found.used[lot] = event["at"]
    for name in event["installations"]:
        own = found.lots.setdefault(name, [])
        if lot and lot not in own:
            own.append(lot)
    times = {"step": number, "stage": step.stage, "installations": list(event["installations"])}
    found.times.append({**times, "at": event["at"], "who": event["who"]})


def record(
    ledger: Ledger,
    run: str,
    job: str,
    steps: Sequence[Step],
    chain: Chain,
    estimate: Estimate,
    facts_of: FactsOf,
    today: str,
    once: Once | None = None,
) -> Document:
    """Write the record of a run that is done, with the times of its steps, and take from the shelf what it used.

    BadInput where something stands against it, Barred where a lot was used at a time when it must not be and nobody
    said why; what was recorded of the run before is given again.
    """
    before = recorded(ledger, run)
    if before is not None:
        return before
    events = happened(ledger, run)
    raw = record_said(events, steps, job, chain)
    shelf = ledger.shelf()
    used = fold(events, steps).used
    for lot, at in sorted(used.items()):
        may_use(ledger, {**raw, "at": at, "lot": lot}, facts_of, bool(raw["reason"]), today)
    # A lot that was condemned after its use gives nothing any more, and is named all the same: by it they are found.
    drawn = draws(estimate, raw["installations"], {}, shelf)
    taken = [draw for draw in drawn if not shelf.lots[draw["lot"]].condemned]
    items = {lot: shelf.lots[lot].item for lot in sorted(used)}
    return recording.record(ledger, {**raw, "run": run, "items": items, "draws": taken}, today, once=once)


def first_free(ledger: Ledger, job: str) -> int:
    """Give the first number that no installation of a job bears yet."""
    taken = [0]
    for document in ledger.documents("work"):
        for one in document.get("installations", ()) if document["job"] == job else ():
            taken += [int(one["installation"])] if one["installation"].isdecimal() else []
    return max(taken) + 1


def recorded(ledger: Ledger, run: str) -> Document | None:
    """Give the record that came of a run; None where there is none yet."""
    return next((one for one in ledger.documents("work") if one.get("run") == run and "installations" in one), None)


def record_said(events: Sequence[Event], steps: Sequence[Step], job: str, chain: Chain) -> dict[str, Any]:
    """Say what a record holds of a run: the installations judged by their readings, the room, who, and the times."""
    found = fold(events, steps)
    if not found.times:
        raise BadInput("run", "nothing was done in it", "do its steps first")
    limits = limits_of(steps)
    notes = list(_notes(found, events))
    made_ = []
    for name in dict.fromkeys(name for one in found.times for name in one["installations"]):
        outcome = "fail" if name in found.failed else found.outcomes.get(name, "")
        given = {
            "installation": name,
            "part": found.parts.get(name, found.part),
            "outcome": outcome,
            "lots": found.lots.get(name, []),
        }
        one = made(given, found.readings.get(name, {}), limits, found.failed.get(name, ""))
        made_.append({**one, "note": "; ".join(notes)[:600]})
    last = found.times[-1]
    return {
        "job": job,
        "at": last["at"],
        "who": last["who"],
        "reason": found.anyway,
        "chain": chain.named,
        "bench": found.room,
        "installations": made_,
        "times": found.times,
    }


def _notes(found: Fold, events: Sequence[Event]) -> Iterator[str]:
    people = list(dict.fromkeys(event["who"] for event in events))
    if len(people) > 1:
        yield f"handed over: {', then '.join(people)}"
    yield from filter(None, found.notes)
