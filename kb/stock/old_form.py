"""What the versions before the ledger wrote, read once more to be taken over: `stock/` and `installations/stock/`.

A head names segments of events with their lengths and digests; every byte that it counts is compared. What is damaged
is refused: nothing is taken over in part.
"""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

from kb.base import disk
from kb.base.errors import BadInput, StoreError
from kb.stock.stores import Document

#: Where the two stores of the old form were.
STOCK, WORK = "stock", "installations/stock"
_LARGEST = 1_000_000_000
_SUM = 9  # each line begins with a checksum and a blank


def there(workspace: Path) -> bool:
    """Tell whether a workspace holds a store of the old form, whole or not."""
    return any((workspace / store / name).exists() for store in (STOCK, WORK) for name in ("head.json", "events"))


def documents(folder: Path) -> list[Document]:
    """Give what a store of the old form holds, in order; nothing where it isn't there. StoreError for damage."""
    if not folder.exists() or not (folder / "head.json").exists():
        if any((folder / name).exists() for name in ("head.previous.json", "events")):
            raise _damaged(folder / "head.json", "is missing")
        return []
    segments = _segments(folder / "head.json")
    contents = {one["name"]: _counted(folder, one) for one in segments}
    previous = folder / "head.previous.json"
    before = _segments(previous) if previous.exists() else []
    if segments and before == segments:
        raise _damaged(previous, "does not lead to the present head: an older one was put back")
    for then in before:
        if _digest(contents.get(then["name"], b"")[: then["size"]]) != then["digest"]:
            raise _damaged(previous, "does not lead to the present head: an older one was put back")
    if segments and not previous.exists():
        raise _damaged(previous, "is missing")
    found: list[Document] = []
    for one in segments:
        lines = contents[one["name"]].split(b"\n")[:-1]
        found += [json.loads(line[_SUM:]) for line in lines]
    return found


def _segments(path: Path) -> list[dict[str, Any]]:
    """Give the segments that a head counts, where every byte of it is as it was written."""
    content = _bytes(path)
    try:
        head = json.loads(content)["head"]
        body = json.dumps(head, separators=(",", ":")).encode()
        whole = b'{"blake2b":"%s","head":%s}\n' % (_digest(body).encode(), body)
    except (ValueError, KeyError, TypeError, RecursionError):
        whole = b""
    if content != whole or not content:
        raise _damaged(path, "is cut short or changed")
    segments: list[dict[str, Any]] = head["segments"]
    if head["layout"] > 1 or any(one["schema"] > 1 for one in segments):
        raise StoreError(str(path), "was written by a later version", "take it over with that version")
    return segments


def _counted(folder: Path, segment: dict[str, Any]) -> bytes:
    path = folder / "events" / f"{segment['name']}.jsonl"
    if not path.exists():
        raise _damaged(path, "is missing")
    content = _bytes(path)[: segment["size"]]
    if len(content) < segment["size"] or _digest(content) != segment["digest"]:
        raise _damaged(path, "was changed since it was written")
    return content


def _bytes(path: Path) -> bytes:
    try:
        return disk.read(path, _LARGEST)
    except BadInput as fault:
        raise _damaged(path, fault.what) from None


def _digest(content: bytes) -> str:
    return hashlib.blake2b(content, digest_size=32).hexdigest()


def _damaged(path: Path, how: str) -> StoreError:
    mend = "nothing was taken over; mend it with the version that wrote it (its `stock repair`), or put a backup there"
    return StoreError(str(path), how, mend)
