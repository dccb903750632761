"""What was made: installations with their lots, readings and outcome, folded from the records of the work.

An installation may be recorded again (it was looked at again, or let go in service): the later outcome counts, and
the lots stay together.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from kb.engine.plan import Yields
from kb.stock.ledger import Ledger
from kb.stock.stores import Document
from kb.work.yields import Yield, learned, mean_of

#: How many installations passed and failed, by what makes it this chain.
Counts = dict[frozenset[tuple[str, str]], tuple[int, int]]
#: What a lot is called now, by a name and the number that an event of it under that name had, or could have had; ""
#: where its receipt was taken back.
Now = Callable[[str, int], str]


def named_at(record: Document) -> int:
    """Give the number of the event that came next when a document of the work named its lots."""
    return int(record.get("as_of", 0)) + 1


@dataclass
class Installation:
    """An installation with all that was recorded of it; its lots by their present names."""

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
    departures: tuple[str, ...] = ()

    @property
    def failed(self) -> bool:
        return self.outcome == "fail"


def installations(records: Iterable[Document], now: Now = lambda name, _: name) -> list[Installation]:
    """Give every installation, in the order in which each was first recorded; later records taken in."""
    found: dict[tuple[str, str], Installation] = {}
    for record in records:
        for one in record.get("installations", ()):
            key = (record["job"], one["installation"])
            known = found.get(key)
            if known is None:
                known = found[key] = Installation(*key, "", "", "", "", "", {}, {}, {}, ())
            _take_in(known, record, one, now)
    return list(found.values())


def _take_in(known: Installation, record: Document, one: Mapping[str, Any], now: Now) -> None:
    known.part = one.get("part") or known.part
    known.outcome, known.why = one["outcome"], one.get("why", "")
    known.at, known.who, known.chain = record["at"], record["who"], record["chain"]
    named = named_at(record)
    known.lots |= {now(lot, named) or lot: record["items"][lot] for lot in one.get("lots", ())}
    known.readings |= one.get("readings", {})
    known.departures = tuple(dict.fromkeys((*known.departures, *record.get("departures", ()))))
    known.bench |= record.get("bench", {})
    known.unmeasured = tuple(name for name in one.get("unmeasured", ()) if name not in known.readings)
    known.photos += [one["photo"]] if one.get("photo") else []
    known.notes += [said for said in (one.get("note"), record.get("reason") if record.get("again") else "") if said]


def learned_yield(records: Iterable[Document], chain: Mapping[str, str], expected: float) -> Yield:
    """Tell what the records say of a chain's yield, in every job; `expected` is what the job believes."""
    passed, failed = counted(records).get(frozenset(chain.items()), (0, 0))
    return learned(passed, failed, expected)


def counted(records: Iterable[Document]) -> Counts:
    """Tell how many installations of each chain passed and failed; what departed from its chain tells nothing of it."""
    found: Counts = {}
    for one in installations(records):
        if not one.departures:
            key = frozenset(one.chain.items())
            passed, failed = found.get(key, (0, 0))
            found[key] = (passed, failed + 1) if one.failed else (passed + 1, failed)
    return found


def yields_by(counts: Counts, expected: float) -> Yields:
    """Give the yield to reckon with of every chain that the lab has a record of.

    `expected` is what the job believes.
    """
    return {key: mean_of(passed, failed, expected) for key, (passed, failed) in counts.items()}


def yield_of(ledger: Ledger, chain: Mapping[str, str], expected: float) -> Yield | None:
    """Tell what the lab's records say of a chain's yield; None where nothing of it was recorded."""
    found = learned_yield(ledger.documents("work"), chain, expected)
    return found if found.passed + found.failed else None
