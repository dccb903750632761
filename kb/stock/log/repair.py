"""`stock repair`: a sound store again from what can still be believed, and an exact account of what can't.

A damaged file is never written over: everything that was there is set aside, in stock/damaged-1, before the
mended store takes its place by one replacement of the head.
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterable
from pathlib import Path

from kb.stock.ledger import Refused, replay
from kb.stock.log import files, records
from kb.stock.log.head import Head, Segment, digest
from kb.stock.log.inspection import inspect, read_head
from kb.stock.log.segments import KEPT, SegmentStorage
from kb.stock.log.store import Document, Report


def repair(storage: SegmentStorage) -> Report:
    """Mend the store; the caller holds its lock. Raises StoreError where a later version wrote it, or on a full disk.

    The report's problems name each event that could not be kept; its notes say what was done.
    """
    found = inspect(storage)
    if not found.problems:
        return Report(found.events, notes=("nothing is damaged; nothing was changed",))
    with files.refusals(storage.folder):
        aside = _set_aside(storage)
        events, lost, notes = _salvage(storage)
        kept, left_out = _foldable(events)
        if left_out:
            lines = "".join(json.dumps(event) + "\n" for event, _ in left_out)
            (aside / "left-out.jsonl").write_text(lines, encoding="utf-8")
        storage.write_anew(kept)
    problems = lost + [f"event {e['id']} was left out: {why}" for e, why in left_out]
    done = f"{len(kept)} events are kept; the files as they were are in {aside}"
    return Report(len(kept), tuple(problems), (*found.problems, *notes, done))


def _set_aside(storage: SegmentStorage) -> Path:
    number = 1
    while (storage.folder / f"damaged-{number}").exists():
        number += 1
    aside = storage.folder / f"damaged-{number}"
    aside.mkdir()
    for path in (storage.head_path, storage.previous_path):
        if path.exists():
            shutil.copy2(path, aside)
    for kept in KEPT:
        if (storage.folder / kept).is_dir():
            shutil.copytree(storage.folder / kept, aside / kept)
    files.sync_folder(storage.folder)
    return aside


def _salvage(storage: SegmentStorage) -> tuple[list[Document], list[str], list[str]]:
    """Every event that can be believed, what is lost, and what is uncertain."""
    present = read_head(storage.head_path.read_bytes()) if storage.head_path.exists() else None
    previous = read_head(storage.previous_path.read_bytes()) if storage.previous_path.exists() else None
    head = present or previous or Head()
    counted = {segment.name: segment for segment in head.segments}
    believed: dict[int, Document] = {}
    for name in sorted({path.stem for path in storage.kept_files()}):
        for event in _events_of(storage, name, counted.get(name)):
            believed.setdefault(event["id"], event)
    events = [believed[number] for number in sorted(believed)]
    if present:
        events = [event for event in events if event["id"] <= present.last_id]
        return events, _missing(events, present), []
    beyond = [event["id"] for event in events if event["id"] > head.last_id]
    doubt = [f"event {number} is whole, though the head that counted it is gone: it was kept" for number in beyond]
    return events, _missing(events, head), doubt


def _events_of(storage: SegmentStorage, name: str, counted: Segment | None) -> Iterable[Document]:
    """The events of a segment, from the file and from its copy, those of a file that is right first."""
    whole: list[Document] = []
    parts: list[Document] = []
    for kept in KEPT:
        path = storage.segment_path(name, kept)
        content = path.read_bytes() if path.exists() else b""
        right = counted is not None and digest(content[: counted.size]) == counted.digest
        (whole if right else parts).extend(records.salvaged(content))
    return storage.lifted(whole + parts, counted.schema) if counted else parts


def _missing(events: list[Document], head: Head) -> list[str]:
    short = head.count - sum(event["id"] <= head.last_id for event in events)
    if short <= 0:
        return []
    there = {event["id"] for event in events}
    gone = [number for number in range(1, head.last_id + 1) if number not in there]
    return [f"event {number} is lost: damaged in the file and in its copy" for number in gone]


def _foldable(events: list[Document]) -> tuple[list[Document], list[tuple[Document, str]]]:
    """The events that still add up, and those that don't without what was lost, each with the reason."""
    histories: dict[str, list[Document]] = {}
    kept, left_out = [], []
    for event in events:
        history = histories.setdefault(event["lot"], [])
        try:
            replay([*history, event])
        except Refused as fault:
            left_out.append((event, str(fault)))
        else:
            history.append(event)
            kept.append(event)
    return kept, left_out
