"""What a request wants of a process, as far as that shows before it is answered: which job, and how much of it."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable
from contextlib import suppress
from math import prod
from typing import Final
from urllib.parse import parse_qsl

from kb.web.forms import fields_of

#: What a job is called: it is planned like any other that differs in that alone.
_NAME: Final = "job.name"
#: What is longer isn't read here, where everybody waits: the same bytes are the same question.
_SHORT: Final = 16_384
_COUNTS: Final = re.compile(rb"(boards|gauges_per_board)\W{1,8}(\d{1,9})\b")


def mark_of(query: bytes, body: bytes) -> bytes:
    """Tell by what a process may know a request again: the job that it asks about, whatever the page and the name.

    >>> page = mark_of(b"part.substrate=brass&part.thickness_mm=2&chain=2", b"")
    >>> page == mark_of(b"", b'{"job": {"name": "B7"}, "part": {"thickness_mm": 2.0, "substrate": "brass"}}')
    True
    >>> mark_of(b"on=2027-03-01", b"")
    b''
    """
    if len(body) > _SHORT:
        return _digest(body)
    said = sorted(pair for pair in _fields(query, body) if "." in pair[0] and pair[0] != _NAME)
    return _digest(repr(said).encode()) if said else b""


def installations_of(query: bytes, body: bytes) -> int:
    """Tell how many installations a request asks about, as its address or its body says; 1 where neither does.

    >>> installations_of(b"batch.boards=40&batch.gauges_per_board=2", b""), installations_of(b"", b'{"boards": 3}')
    (80, 3)
    """
    counts: dict[bytes, int] = {}
    for name, number in _COUNTS.findall(query + b"\n" + body):
        counts[name] = max(counts.get(name, 1), int(number))
    return prod(counts.values())


def _fields(query: bytes, body: bytes) -> Iterable[tuple[str, str]]:
    """Give the fields of the body, or those of the address where it is a form: then the page asks about the job."""
    with suppress(ValueError, RecursionError):
        tables = json.loads(body)
        if isinstance(tables, dict):
            return fields_of(tables)
    return parse_qsl(query.decode("latin-1"))


def _digest(asked: bytes) -> bytes:
    return hashlib.blake2b(asked, digest_size=16).digest()
