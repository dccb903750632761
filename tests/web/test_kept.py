"""A store that stays open says what one that is opened anew says, whatever others do to it meanwhile."""

from __future__ import annotations

import random
import threading
from pathlib import Path
from typing import Any

import pytest

from kb.base.errors import StoreError
from kb.stock.admission import record
from kb.stock.log.tinystore import TinyStore
from kb.stock.shelf import shelf_of
from kb.web.kept import KeptStore


def came(lot: str) -> dict[str, Any]:
    common = {"type": "received", "at": "2027-03-01", "who": "kim", "item": "acetone"}
    return {**common, "lot": lot, "quantity": "500", "unit": "mL"}


def used(lot: str, quantity: str = "1") -> dict[str, Any]:
    return {"type": "used", "at": "2027-03-02", "who": "kim", "lot": lot, "quantity": quantity, "unit": "mL"}


def same(kept: KeptStore, workspace: Path) -> None:
    fresh = TinyStore(workspace)
    assert kept.events() == fresh.events()
    assert kept.events({"L1", "L3"}) == fresh.events({"L1", "L3"})
    assert kept.shelf() == shelf_of(fresh)


def test_it_follows_others_across_segments_and_corrections(tmp_path: Path) -> None:
    draw = random.Random(7)
    kept = KeptStore(tmp_path)
    same(kept, tmp_path)
    record(kept, [came(f"L{n}") for n in range(5)])
    for round_ in range(60):
        writer = kept if draw.random() < 0.5 else TinyStore(tmp_path)
        record(writer, [used(f"L{draw.randrange(5)}") for _ in range(draw.randint(1, 30))])
        if round_ % 9 == 0:
            target = next(e["id"] for e in kept.events({"L1"}) if e["type"] == "received")
            right = {"type": "corrected", "at": "2027-03-02", "who": "kim", "lot": "L1", "reason": "misread"}
            record(kept, [{**right, "corrects": target, "change": {"quantity": str(9000 + round_)}}])
        if round_ % 4 == 0:
            same(kept, tmp_path)
    same(kept, tmp_path)
    assert len(kept.events()) > 512  # more than one segment


def test_it_notices_that_the_store_was_mended(tmp_path: Path) -> None:
    kept = KeptStore(tmp_path)
    record(kept, [came("L1"), came("L3"), used("L1")])
    same(kept, tmp_path)
    segment = tmp_path / "stock" / "events" / "000001.jsonl"
    segment.write_bytes(segment.read_bytes().replace(b"500", b"501"))
    with pytest.raises(StoreError, match="was changed since it was written"):
        record(kept, [used("L1")])
    assert TinyStore(tmp_path).repair().problems == ()
    same(kept, tmp_path)
    record(kept, [used("L3")])
    same(kept, tmp_path)


def test_threads_that_write_at_once_lose_and_double_nothing(tmp_path: Path) -> None:
    kept = KeptStore(tmp_path)
    record(kept, [came("L1"), came("L3")])
    ids: list[int] = []

    def writes(store: KeptStore | TinyStore) -> None:
        for _ in range(10):
            ids.extend(e["id"] for e in record(store, [used("L1"), used("L3")]))
            kept.shelf()

    threads = [threading.Thread(target=writes, args=(s,)) for s in (kept, kept, kept, TinyStore(tmp_path))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(ids) == list(range(3, 83))
    assert kept.shelf().lots["L1"].quantity == 460
    same(kept, tmp_path)
    assert kept.verify().problems == ()
