"""The head of a store: which segments there are, how long each is, and the digest of what is in it.

The head is what makes an append-only file safe against being cut: the last event is acknowledged when the head that
counts it has replaced the one before. It is JSON, but read byte by byte: any other byte, and any missing one, is
noticed.

>>> head = Head(segments=(Segment("000001", 1, 1, 1, 54, "ab" * 32),))
>>> Head.read(head.written()) == head
True
>>> Head.read(head.written()[:-1])
Traceback (most recent call last):
    ...
kb.stock.log.head.Damaged: is cut short or changed
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass, replace

LAYOUT = 1
_OPENING = b'{"blake2b":"'
_BETWEEN = b'","head":'
_CLOSING = b"}\n"


class Damaged(Exception):
    """What was read isn't what was written; says how that shows."""


class Newer(Exception):
    """Written by a later version of this program."""


def digest(content: bytes | memoryview) -> str:
    """The checksum that stands for `content`: BLAKE2b, 256 bits, in hexadecimal."""
    return hashlib.blake2b(content, digest_size=32).hexdigest()


@dataclass(frozen=True, slots=True)
class Segment:
    """One file of events: its name, the schema it is written in, its events, its length, the digest of that much."""

    name: str
    schema: int
    count: int
    last_id: int
    size: int
    digest: str


@dataclass(frozen=True, slots=True)
class Head:
    """The segments in order. All but the last are complete and are never written again."""

    segments: tuple[Segment, ...] = ()

    @property
    def count(self) -> int:
        return sum(segment.count for segment in self.segments)

    @property
    def last_id(self) -> int:
        return self.segments[-1].last_id if self.segments else 0

    def with_last(self, segment: Segment) -> Head:
        """This head with `segment` in the place of the one of its name, or after the others."""
        kept = tuple(s for s in self.segments if s.name != segment.name)
        return replace(self, segments=(*kept, segment))

    def written(self) -> bytes:
        """The bytes of the head's file."""
        body = json.dumps({"layout": LAYOUT, **asdict(self)}, separators=(",", ":")).encode()
        return _OPENING + digest(body).encode() + _BETWEEN + body + _CLOSING

    @classmethod
    def read(cls, content: bytes) -> Head:
        """The head that `written` wrote. Raises Damaged or Newer."""
        start = len(_OPENING) + 64 + len(_BETWEEN)
        body = content[start : -len(_CLOSING)]
        if content != _OPENING + digest(body).encode() + _BETWEEN + body + _CLOSING:
            raise Damaged("is cut short or changed")
        said = json.loads(body)
        if said["layout"] > LAYOUT:
            raise Newer(f"layout {said['layout']}")
        return cls(segments=tuple(Segment(**segment) for segment in said["segments"]))
