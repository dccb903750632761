"""Proofs that count no more, kept in the workspace: a start of the server anew must not let in who has left.

Kept is of each what tells it again, and until when it would have counted; what has run out by itself is dropped.
"""

from __future__ import annotations

import hashlib
from pathlib import Path
from threading import Lock
from typing import Final

from kb.base import disk
from kb.base.errors import StoreError
from kb.web.session import SECRET_FILE

NAME: Final = "sessions.ended"


class Ended:
    """The ended proofs of one workspace; other servers may add to them."""

    def __init__(self, workspace: Path) -> None:
        self._path, self._lock = workspace / NAME, Lock()
        self._seen: tuple[int, int, int] | None = None
        self._marks: dict[str, float] = {}

    def __contains__(self, proof: str) -> bool:
        with self._lock:
            self._read()
            return _mark(proof) in self._marks

    def add(self, proof: str, until: float, now: float) -> None:
        """Take a proof for none from now on. StoreError where that can't be kept."""
        with disk.refusals(self._path):
            disk.make_folder(self._path.parent)
            # The lock of this process within the one of all: who only looks never waits for another server.
            with disk.locked(self._path.with_name(f".{NAME}.lock"), self._path), self._lock:
                self._read()
                kept = {mark: ends for mark, ends in self._marks.items() if ends > now} | {_mark(proof): until}
                lines = (f"{ends:.0f} {mark}\n" for mark, ends in kept.items())
                disk.replace(self._path, "".join(lines).encode())

    def _read(self) -> None:
        """Read the file where it is another than the one that was read last."""
        with disk.refusals(self._path):
            try:
                found = self._path.stat()
            except FileNotFoundError:
                self._seen, self._marks = None, {}
                return
            seen = found.st_mtime_ns, found.st_ino, found.st_size
            if seen != self._seen:
                self._marks = _marks_in(self._path)
                self._seen = seen


def _marks_in(path: Path) -> dict[str, float]:
    """Give the marks in a file, and until when they count. StoreError where it is damaged."""
    try:
        rows = [line.split(" ") for line in path.read_text(encoding="ascii").splitlines()]
        return {mark: float(until) for until, mark in rows}
    except ValueError:
        mend = f"remove it and {SECRET_FILE} beside it, and start the server anew: then everybody signs in again"
        raise StoreError(str(path), "is damaged, so that it is not known who has left", mend) from None


def _mark(proof: str) -> str:
    return hashlib.sha256(proof.encode("utf-8", "surrogatepass")).hexdigest()
