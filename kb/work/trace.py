"""Which lots went where: from a lot to the parts that it is on; from a job, a part, a person or days to the lots."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import NamedTuple

from kb.base.errors import BadInput
from kb.stock.fold import Shelf, effective, no_such_lot, present_names
from kb.stock.ledger import Ledger
from kb.stock.lots import Event, Lot
from kb.work.installations import Installation, installations
from kb.work.signing import Standing, standings


class Sought(NamedTuple):
    """What is traced: a lot or a job by its name, or all containers of a maker's lot; on which part, by whom, when.

    `job`: the name is that of a job, also where nothing of it was recorded yet.
    """

    of: str = ""
    job: bool = False
    batch: str = ""
    part: str = ""
    who: str = ""
    since: str = ""
    until: str = ""

    @property
    def further(self) -> dict[str, str]:
        """What narrows it down, by the name of its field."""
        return {name: value for name, value in self._asdict().items() if value and name not in ("of", "job")}


@dataclass(frozen=True)
class LotShare:
    """A lot, the installations that it is in, and how many of them failed."""

    lot: str
    item: str
    installations: int
    failed: int

    @property
    def share(self) -> float:
        return self.failed / self.installations


class OnShelf(NamedTuple):
    """What is left of a traced lot, or of another container of the same lot of the maker's."""

    lot: str
    item: str
    quantity: Decimal
    unit: str
    location: str
    batch: str
    installations: int


@dataclass(frozen=True)
class Trace:
    """Installations that were asked for, their lots (the worst first), and uses of the lot that no record explains.

    `on_shelf`: the lot itself, and the other containers of the same lot of the maker's.
    """

    of: str
    kind: str
    installations: tuple[Installation, ...]
    lots: tuple[LotShare, ...]
    other_uses: tuple[Event, ...] = ()
    #: Uses of the lot that belong to a record and were undone: the record names the lot still.
    undone_uses: tuple[Event, ...] = ()
    on_shelf: tuple[OnShelf, ...] = ()
    #: The records of the installations, with the signatures under each.
    records: tuple[Standing, ...] = ()

    @property
    def passed(self) -> int:
        return len(self.installations) - self.failed

    @property
    def failed(self) -> int:
        return sum(one.failed for one in self.installations)

    @property
    def recall(self) -> list[tuple[str, str, list[Installation]]]:
        """Job and part of everything that is out in the world, in the order of recording: passed, so in service."""
        found: dict[tuple[str, str], list[Installation]] = {}
        for one in self.installations:
            if not one.failed:
                found.setdefault((one.job, one.part), []).append(one)
        return [(job, part, ones) for (job, part), ones in found.items()]


def trace(ledger: Ledger, sought: Sought) -> Trace:
    """Find what was asked for. BadInput where there is no such lot or job, or nothing was sought."""
    if not sought.of and not sought.further:
        raise BadInput("trace", "nothing is asked for", "name a lot or a job, or --part, --who, --since or --batch")
    with ledger.looking() as look:
        shelf, work = look.shelf, look.documents("work")
        made = installations(work, present_names(shelf))
        kind, lots = _meant(sought, shelf, made)
        histories = [look.history_of(lot) for lot in lots]
    holds = [event for history in histories for event in effective(history)]
    uses = [event for event in holds if event["type"] == "used" and "record" not in event]
    kept = {event["id"] for event in holds}
    undone = [event for history in histories for event in history if "record" in event and event["id"] not in kept]
    names = {lot.lot for lot in lots}
    found = tuple(
        one
        for one in made
        if (not names or names & set(one.lots)) and (kind != "job" or one.job == sought.of) and _among(one, sought)
    )
    of = sought.of or ", ".join(sought.further.values())
    there = [*lots, *(lot for lot in shelf.lots.values() if lot.lot not in names and _alike(lot, lots))]
    on_shelf = tuple(
        OnShelf(
            lot.lot, lot.item, lot.quantity, lot.unit, lot.location, lot.batch, sum(lot.lot in one.lots for one in made)
        )
        for lot in there
    )
    others, undone_uses = (
        tuple(e for e in events if _between(e["at"], sought) and sought.who in ("", e["who"]) and not sought.part)
        for events in (uses, undone)
    )
    of_these = {(one.job, one.name) for one in found}
    records = tuple(
        one
        for one in standings(work).values()
        if any((one.record["job"], made["installation"]) in of_these for made in one.record["installations"])
    )
    return Trace(of, kind, found, _shares(found), others, undone_uses, on_shelf, records)


def _meant(sought: Sought, shelf: Shelf, made: Collection[Installation]) -> tuple[str, list[Lot]]:
    """Tell what kind of thing is traced, and the lots that it is, if it is lots."""
    if sought.batch:
        lots = [lot for lot in shelf.lots.values() if batch_of(lot) == sought.batch]
        if not lots:
            raise BadInput(
                sought.batch, "no container of such a lot of a maker's was ever received", "see `stock list`"
            )
        return "batch", lots
    if not sought.of:
        return next(iter(sought.further)).replace("since", "days").replace("until", "days"), []
    if sought.job or any(one.job == sought.of for one in made):
        return "job", []
    if sought.of not in shelf.lots:
        raise no_such_lot(sought.of, shelf, {one.job for one in made})
    return "lot", [shelf.lots[sought.of]]


def batch_of(lot: Lot) -> str:
    """Give the maker's lot of a container: as it was given, or else its own name."""
    return lot.batch or lot.lot


def _alike(lot: Lot, others: Sequence[Lot]) -> bool:
    """Tell whether a container is of the same lot of the maker's as one of `others`."""
    return any(
        batch_of(lot) == batch_of(one) and lot.item == one.item and (not lot.gtin or lot.gtin == (one.gtin or lot.gtin))
        for one in others
    )


def _among(one: Installation, sought: Sought) -> bool:
    return sought.part in ("", one.part) and sought.who in ("", one.who) and _between(one.at, sought)


def _between(at: str, sought: Sought) -> bool:
    return (not sought.since or at[:10] >= sought.since[:10]) and (not sought.until or at[:10] <= sought.until[:10])


def _shares(made: Iterable[Installation]) -> tuple[LotShare, ...]:
    counted: dict[tuple[str, str], list[bool]] = {}
    for one in made:
        for lot, item in one.lots.items():
            counted.setdefault((lot, item), []).append(one.failed)
    found = [LotShare(lot, item, len(each), sum(each)) for (lot, item), each in counted.items()]
    return tuple(sorted(found, key=lambda one: (-one.share, one.item, one.lot)))
