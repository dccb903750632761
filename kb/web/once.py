"""A write that is carried out once, however often it is sent: by a second click, a reload, or an answer that was lost.

Each write carries a word of its own. What was answered to it is kept in the ledger, in the same transaction as what it
recorded: so neither a crash nor a new start of the server makes it twice. Another session's word is another word.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from threading import Lock
from typing import NamedTuple

from kb.stock.stores import Document, Entry, Once


class Seal(NamedTuple):
    """A write's word in its session, and what it asks for, as a digest."""

    word: str
    asked: str

    def once(self, answer: Callable[[Sequence[Document]], str]) -> Once:
        """Give the word as the ledger takes it; `answer` makes the answer of the documents that were recorded."""

        def answered(entries: Sequence[Entry]) -> str:
            return answer([entry.body for entry in entries])

        return Once(self.word, self.asked, answered)


def sealed(session: str, word: str, asked: str) -> Seal:
    """Give the seal of a write: the word stands for itself in its own session only."""
    return Seal(hashlib.sha256(f"{session}\0{word}".encode("utf-8", "surrogatepass")).hexdigest(), asked)


class UnderWay:
    """The writes that are being carried out just now, by their words."""

    def __init__(self) -> None:
        self._words: set[str] = set()
        self._lock = Lock()

    def begin(self, word: str) -> bool:
        """Tell whether nobody else has begun it; if so it is the caller's to do."""
        with self._lock:
            fresh = word not in self._words
            self._words.add(word)
            return fresh

    def end(self, word: str) -> None:
        """Note that it is done, or has failed and may be tried again."""
        with self._lock:
            self._words.discard(word)
