"""`stock verify`: every byte against its digest, every line, every event, and what they add up to."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from kb.base.errors import BadInput, StoreError
from kb.stock.events import checked
from kb.stock.ledger import Refused, replay
from kb.stock.log import records
from kb.stock.log.head import Damaged, Head, Newer, Segment, digest
from kb.stock.log.segments import KEPT, SegmentStorage
from kb.stock.log.store import Document, Report

Faults = Callable[[list[Document]], Iterable[str]]


def inspect(storage: SegmentStorage, faults: Faults | None = None) -> Report:
    """All that is wrong with a store, and what is odd but harmless. Reads everything and writes nothing.

    `faults` judges what the documents themselves say; those of the shelf's own events, if it is left out.

    Raises StoreError only where the store is of a later version, which can't be judged.
    """
    try:
        storage.refresh()
    except StoreError as error:
        if "later version" in error.what:
            raise
        return Report(0, (f"{error.where}: {error.what}", *_damage_of_kept(storage)))
    if not storage.head_path.exists():
        return Report(0, notes=("no event has been recorded yet",))
    problems = [*_damage_of_kept(storage), *_damage_of_previous(storage)]
    events: list[Document] = []
    for segment in storage.head.segments:
        problems += _damage_of_lines(storage, segment)
        events += storage.documents(segment.name)
    problems += (faults or _faults)(events)
    return Report(len(events), tuple(problems), tuple(_leftovers(storage)))


def read_head(content: bytes) -> Head | None:
    """The head, or None where the bytes are no head that this program can read."""
    try:
        return Head.read(content)
    except (Damaged, Newer):
        return None


def _damage_of_kept(storage: SegmentStorage) -> Iterator[str]:
    """What is wrong with the segments and their copies, as far as a head says what they should be."""
    head = next(
        (h for p in (storage.head_path, storage.previous_path) if p.exists() and (h := read_head(p.read_bytes()))),
        Head(),
    )
    for segment in head.segments:
        for kept in KEPT:
            path = storage.segment_path(segment.name, kept)
            content = path.read_bytes() if path.exists() else b""
            if len(content) < segment.size:
                yield f"{path}: has {len(content)} bytes of {segment.size}"
            elif digest(content[: segment.size]) != segment.digest:
                yield f"{path}: was changed since it was written"


def _damage_of_previous(storage: SegmentStorage) -> Iterator[str]:
    path = storage.previous_path
    if not path.exists():
        if storage.head.segments:
            yield f"{path}: is missing"
        return
    previous = read_head(path.read_bytes())
    if previous is None:
        yield f"{path}: is cut short or changed"
        return
    now = {segment.name: segment for segment in storage.head.segments}
    for then in previous.segments:
        content = storage.content(then.name) if then.name in now else b""
        if digest(content[: then.size]) != then.digest:
            yield f"{path}: does not lead to the present head"
            return


def _damage_of_lines(storage: SegmentStorage, segment: Segment) -> Iterator[str]:
    path = storage.segment_path(segment.name)
    lines = storage.content(segment.name).split(b"\n")[:-1]
    if len(lines) != segment.count:
        yield f"{path}: has {len(lines)} events, and the head counts {segment.count}"
    for number, line in enumerate(lines, start=1):
        if not records.sound(line):
            yield f"{path}: line {number} does not match its checksum"


def _faults(events: list[Document]) -> Iterator[str]:
    """What the events themselves say wrong: an id out of order, an event of no known form, a sum below zero."""
    histories: dict[str, list[Document]] = {}
    last = 0
    for event in events:
        if event["id"] <= last:
            yield f"event {event['id']}: comes after event {last}"
        last = event["id"]
        try:
            if checked(event) != event:
                yield f"event {event['id']}: is not in canonical form"
        except BadInput as fault:
            yield f"event {event['id']}: {fault}"
            continue
        histories.setdefault(event["lot"], []).append(event)
    for history in histories.values():
        try:
            replay(history)
        except Refused as fault:
            yield f"lot {fault}"


def _leftovers(storage: SegmentStorage) -> Iterator[str]:
    """What an interrupted write left behind; the next write takes it away or overwrites it."""
    sizes = {segment.name: segment.size for segment in storage.head.segments}
    for path in storage.kept_files():
        beyond = path.stat().st_size - sizes.get(path.stem, 0)
        if beyond > 0:
            yield f"{path}: {beyond} bytes after the last acknowledged event, of a write that was interrupted"
