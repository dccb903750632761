"""What pages look like and the scripts that they ship: each by an address that changes with what stands in it."""

from __future__ import annotations

import hashlib
from functools import cache
from pathlib import Path

STATIC = Path(__file__).parent / "static"
#: Where they are reached, without having been let in.
PREFIX = "/static/"
#: The same for everybody and for good: what changes gets another address.
FOR_GOOD = "public, max-age=31536000, immutable"
#: Asked for by an address without its mark: kept, and asked for again only whether it has changed.
ASK_AGAIN = "no-cache"


def address(name: str) -> str:
    """Tell where a file of the pages is, with the mark of what stands in it."""
    return f"{PREFIX}{name}?{_marks()[name]}"


def kept_for(path: str, query: bytes) -> str:
    """Tell how long a browser may keep what it asked for by that address."""
    mark = _marks().get(path.removeprefix(PREFIX))
    return FOR_GOOD if query and query.decode("latin-1") == mark else ASK_AGAIN


@cache
def _marks() -> dict[str, str]:
    return {file.name: hashlib.sha256(file.read_bytes()).hexdigest()[:16] for file in STATIC.iterdir()}
