"""What keeps a ledger: entries in the order in which they were acknowledged, each chained to the one before.

A store keeps documents; it knows nothing of shelf life. `append` is its one way to write: the caller's `decide` sees
the entries as they are at that moment, and gives back what is to be added, all of which goes in or nothing. It must be
pure: a store may ask it again where another writer came first. What `decide` raises leaves the store as it was.
`append` returns only once the entries would outlive a power cut: then they are acknowledged.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple, Protocol

#: A plain JSON document, with the number that people know it by under `id`.
Document = dict[str, Any]
#: What the documents of each stream are about: the field that they are found again by.
STREAMS = {"stock": "lot", "work": "job", "confirmed": "fact"}


class Entry(NamedTuple):
    """A document as it is kept: its place in the ledger, its stream, and the hash that ends the chain there."""

    seq: int
    stream: str
    body: Document
    hash: str = ""


class Draft(NamedTuple):
    """A document that is to be kept, with its number."""

    stream: str
    body: Document


class Head(NamedTuple):
    """How far a ledger goes: the place of its last entry, and the hash that stands for everything up to it."""

    seq: int = 0
    hash: str = ""


class Answered(Exception):
    """A write that carried this word was carried out before: what it had asked for, and what it was answered."""

    def __init__(self, asked: str, answer: str) -> None:
        super().__init__(asked, answer)
        self.asked, self.answer = asked, answer


class Once(NamedTuple):
    """A word that a write carries so that it is done once: what it asked for, and what is answered to it.

    `answer` makes the answer of the entries that were added; it is kept with them.
    """

    word: str
    asked: str
    answer: Callable[[Sequence[Entry]], str]


@dataclass(frozen=True, slots=True)
class Report:
    """What a check found. `problems` mean damage; `notes` are worth knowing and harm nothing."""

    events: int
    problems: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    def __add__(self, other: Report) -> Report:
        return Report(max(self.events, other.events), self.problems + other.problems, self.notes + other.notes)


class Reader(Protocol):
    """Entries as they are at one moment. Raises StoreError where they can't be trusted."""

    def head(self) -> Head:
        """Say how far the ledger goes."""

    def hash_at(self, seq: int) -> str:
        """Give the hash of the entry at that place; "" where there is none."""

    def entries(self, stream: str | None = None, about: Collection[str] | None = None, after: int = 0) -> list[Entry]:
        """Give the entries in order: of one stream, about some lots or jobs, behind a place, or all."""


Decide = Callable[[Reader], Sequence[Draft]]


class Store(Protocol):
    """A ledger's entries. Places rise by one; the numbers in each stream rise and are never used twice."""

    def reading(self) -> AbstractContextManager[Reader]:
        """Look at the entries as they are at one moment."""

    def append(self, decide: Decide, once: Once | None = None) -> list[Entry]:
        """Add what `decide` makes of the present entries, all of it or nothing, and give it back as it is kept.

        Raises Answered where a write that carried the same word was carried out before.
        """

    def answered(self, word: str) -> Answered | None:
        """Give what was answered when a write carried that word; None where none did."""

    def verify(self) -> Report:
        """Check everything that is kept against everything else. Writes nothing."""

    def backup(self, file: Path) -> None:
        """Copy the ledger, as it is at one moment, to a file that is not there yet: an embedded store of its own."""

    def restore(self, file: Path) -> None:
        """Become what `backup` wrote, all of it or nothing. StoreError where something is recorded already."""


def subject(stream: str, body: Document) -> str:
    """Say what a document is about: the lot of an event, the job of a record."""
    return str(body[STREAMS[stream]])
