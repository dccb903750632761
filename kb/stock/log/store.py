"""What every store of events can do, whatever it keeps them in.

A store keeps documents; it knows nothing of shelf life. `append` is its one way to write: the caller's
`decide` sees the events of the lots concerned as they are at that moment, and gives back what is to be added.
It must be pure: a store may ask it again where another writer came first. What `decide` raises leaves the store
as it was. `append` returns only once the events would outlive a power cut; that is the point at
which they are acknowledged.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

#: A stored event: its plain document, with the id that the store gave it.
Document = dict[str, Any]
Decide = Callable[[Sequence[Document]], Sequence[Document]]


@dataclass(frozen=True, slots=True)
class Report:
    """What a check or a repair found. `problems` mean damage; `notes` are worth knowing and harm nothing."""

    events: int
    problems: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    def __add__(self, other: Report) -> Report:
        return Report(self.events + other.events, self.problems + other.problems, self.notes + other.notes)


class Store(Protocol):
    """Events in the order in which they were acknowledged; ids rise and are never used twice."""

    def events(self, lots: Collection[str] | None = None) -> list[Document]:
        """All events, or those of the lots named, in order. Raises StoreError where they can't be trusted."""

    def append(self, lots: Collection[str], decide: Decide) -> list[Document]:
        """Add what `decide` makes of the present events of `lots`: all of it or nothing.

        Returns the added events with their ids. An event that brings an id of its own keeps it, and it must be
        above every id in the store. Raises StoreError where the store is locked, damaged or refuses the write.
        """

    def verify(self) -> Report:
        """Check everything that is kept against everything else. Writes nothing."""
