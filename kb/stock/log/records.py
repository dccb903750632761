"""Events as lines of a segment: a checksum of the line, a blank, and the event as JSON.

The checksum of a line is for repair, which must know what can still be believed when the segment's own digest
is wrong.

>>> line = written({"id": 1, "type": "opened"})
>>> line
b'4d5a42f3 {"id":1,"type":"opened"}\\n'
>>> parsed(line), salvaged(line + line.replace(b"1", b"2"))
([{'id': 1, 'type': 'opened'}], [{'id': 1, 'type': 'opened'}])
"""

from __future__ import annotations

import json
import zlib

from kb.stock.log.store import Document

_SUM = 9


def written(event: Document) -> bytes:
    """The line that holds `event`."""
    body = json.dumps(event, separators=(",", ":"), ensure_ascii=False).encode()
    return b"%08x %s\n" % (zlib.crc32(body), body)


def parsed(segment: bytes) -> list[Document]:
    """The events of a segment whose digest is right: its lines are not checked again."""
    if not segment:
        return []
    lines = segment[:-1].split(b"\n")
    events: list[Document] = json.loads(b"[" + b",".join([line[_SUM:] for line in lines]) + b"]")
    return events


def mentioning(segment: bytes, lot: str) -> bool:
    """Whether any line of `segment` may be about `lot`."""
    return b'"lot":' + json.dumps(lot, ensure_ascii=False).encode() in segment


def sound(line: bytes) -> bool:
    """Whether a line, without its end, is as it was written."""
    body = line[_SUM:]
    return line[:_SUM] == b"%08x " % zlib.crc32(body)


def salvaged(segment: bytes) -> list[Document]:
    """The events of those lines that are whole and as they were written."""
    return [json.loads(line[_SUM:]) for line in segment.split(b"\n") if line and sound(line)]
