"""Which lots went where: from a lot to the parts that it is on, and from a job back to its lots."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from kb.stock.ledger import Event
from kb.work.installations import Installation


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


@dataclass(frozen=True)
class Trace:
    """Installations that were asked for, their lots (the worst first), and uses of the lot that no record explains."""

    of: str
    kind: str
    installations: tuple[Installation, ...]
    lots: tuple[LotShare, ...]
    other_uses: tuple[Event, ...] = ()

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


def trace_lot(lot: str, made: Iterable[Installation], history: Sequence[Event]) -> Trace:
    """Everything that a lot is on; `history` holds its events."""
    found = tuple(one for one in made if lot in one.lots)
    others = tuple(e for e in history if e["type"] == "used" and not str(e.get("reason", "")).startswith("record "))
    return Trace(lot, "lot", found, _lots(found), others)


def trace_job(job: str, made: Iterable[Installation]) -> Trace:
    """Everything that was made in a job, and from what."""
    found = tuple(one for one in made if one.job == job)
    return Trace(job, "job", found, _lots(found))


def _lots(made: Iterable[Installation]) -> tuple[LotShare, ...]:
    counted: dict[tuple[str, str], list[bool]] = {}
    for one in made:
        for lot, item in one.lots.items():
            counted.setdefault((lot, item), []).append(one.failed)
    found = [LotShare(lot, item, len(each), sum(each)) for (lot, item), each in counted.items()]
    return tuple(sorted(found, key=lambda one: (-one.share, one.item, one.lot)))
