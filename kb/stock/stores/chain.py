"""The chain: each entry's hash covers what it says and the hash of the one before, so that no change goes unseen.

>>> first, second = linked(Head(), [Draft("stock", {"id": 1, "lot": "A"}), Draft("stock", {"id": 2, "lot": "A"})])
>>> second.entry.seq, second.entry.hash == link(first.entry.hash, 2, "stock", 2, "A", '{"id":2,"lot":"A"}')
(2, True)
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from kb.base.errors import StoreError
from kb.stock.stores import Document, Draft, Entry, Head, subject


class Link(NamedTuple):
    """An entry with what it is about and the text that its hash covers."""

    entry: Entry
    about: str
    text: str


def text_of(body: Document) -> str:
    """Write a document as it is kept: one line of JSON."""
    return json.dumps(body, ensure_ascii=False, separators=(",", ":"), allow_nan=False)


def link(before: str, seq: int, stream: str, number: int, about: str, text: str) -> str:
    """Give the hash (SHA-256) of an entry that follows the one whose hash is `before`."""
    return hashlib.sha256(f"{before}\n{seq}\n{stream}\n{number}\n{about}\n{text}".encode()).hexdigest()


def linked(head: Head, drafts: Iterable[Draft]) -> list[Link]:
    """Chain `drafts` to what ends at `head`."""
    found: list[Link] = []
    seq, before = head
    for stream, body in drafts:
        seq, about, text = seq + 1, subject(stream, body), text_of(body)
        before = link(before, seq, stream, body["id"], about, text)
        found.append(Link(Entry(seq, stream, body, before), about, text))
    return found


def must_rise(drafts: Sequence[Draft], last: Mapping[str, int]) -> None:
    """Raise StoreError where a number doesn't rise above the `last` of its stream."""
    reached = dict(last)
    for stream, body in drafts:
        if body["id"] <= reached.get(stream, 0):
            raise StoreError("", f"{stream} {body['id']} is in the ledger already", "nothing was recorded")
        reached[stream] = body["id"]
