"""A small ledger cut at every byte, and with every bit flipped: that is noticed, or does no harm.

Each time the ledger is looked at, written to, and looked at again. An answer is right or refused. What was refused
left the file as it was; what was recorded is there with all that was there before, or the damage is noticed.
"""

from __future__ import annotations

import os
import random
import tempfile
from collections import Counter
from collections.abc import Iterator
from multiprocessing import get_context
from pathlib import Path
from typing import Any

from kb.base.errors import StoreError
from kb.base.places import LEDGER
from kb.stock.stores import Document
from kb.stock.workspace import ledger_of
from tests.stock.factory import TODAY, event, received, used
from tests.stock.ordeal.acts import ACTS, begun, warm

#: A cut to so many bytes (bit is None), or a bit flipped in the byte at that place.
Harm = tuple[int, int | None]
_AFTER = used("A", "0.5", at="2027-03-09", reason="after")


def run(count: int = 0, seed: int = 1) -> Counter[str]:
    """Do `count` of the harms by chance, or every one; counts what became of each."""
    warm()
    whole, truth = _small()
    harms = list(_sample(len(whole), count, seed) if count else _every(len(whole)))
    found: Counter[str] = Counter()
    workers = 1 if count else len(os.sched_getaffinity(0))
    parts = [harms[start :: workers * 8] for start in range(workers * 8)] if workers > 1 else [harms]
    if workers == 1:
        return _all_of((whole, truth, harms))
    with get_context("fork").Pool(workers) as pool:
        for part in pool.imap_unordered(_all_of, [(whole, truth, part) for part in parts]):
            found += part
    return found


def _small() -> tuple[bytes, dict[str, Any]]:
    """The bytes of a small ledger that was closed, and what is in it."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        ledger = begun(folder)
        ACTS["record"](folder, "job")
        ACTS["reserve"](folder, "other")
        drafts = [received("C", "9"), used("A", "3", reason="délivré"), event("renamed", "C", to="D")]
        ledger.record([*drafts, event("corrected", "A", corrects=6, change={"quantity": "2"}, reason="r")], TODAY)
        return (folder / LEDGER).read_bytes(), _told(folder)


def _told(folder: Path) -> dict[str, Any]:
    ledger = ledger_of(folder)
    return {"shelf": ledger.shelf(), "work": ledger.documents("work"), "stock": ledger.documents("stock")}


def _every(size: int) -> Iterator[Harm]:
    for place in range(size):
        yield place, None
        yield from ((place, bit) for bit in range(8))


def _sample(size: int, count: int, seed: int) -> Iterator[Harm]:
    """Half of them anywhere, half where SQLite keeps its head and ours are (the first page)."""
    dice = random.Random(seed)
    for number in range(count):
        place = dice.randrange(size if number % 2 else 4096)
        yield place, dice.choice((None, *range(8)))


def _all_of(given: tuple[bytes, dict[str, Any], list[Harm]]) -> Counter[str]:
    whole, truth, harms = given
    found: Counter[str] = Counter()
    with tempfile.TemporaryDirectory(prefix="damage-") as name:
        for harm in harms:
            found["cuts" if harm[1] is None else "flips"] += 1
            found[_one(Path(name), whole, truth, harm)] += 1
    return found


def _one(folder: Path, whole: bytes, truth: dict[str, Any], harm: Harm) -> str:
    place, bit = harm
    content = whole[:place] + (b"" if bit is None else bytes([whole[place] ^ 1 << bit]) + whole[place + 1 :])
    path = folder / LEDGER
    for beside in folder.iterdir():
        beside.unlink()
    path.write_bytes(content)
    seen = _look(folder, truth)
    assert path.read_bytes() == content, f"{harm}: looking changed it"
    try:
        ledger_of(folder).record([_AFTER], TODAY)
    except StoreError:
        assert path.read_bytes() == content, f"{harm}: refused, and written"
        return "noticed" if seen == "noticed" else "harmless to look at, and not written to"
    assert seen == "harmless", f"{harm}: written to, though it was noticed"
    try:
        then = _told(folder)
    except StoreError:
        return "noticed once it was written to"
    assert _without_last(then["stock"]) == truth["stock"], f"{harm}: something was lost"
    assert then["work"] == truth["work"], f"{harm}: something was lost"
    return "harmless"


def _look(folder: Path, truth: dict[str, Any]) -> str:
    try:
        assert _told(folder) == truth
    except StoreError as fault:
        refused = str(fault)
    else:
        return "harmless"
    try:
        problems = "".join(ledger_of(folder).verify().problems)
    except StoreError as fault:
        problems = str(fault)
    assert problems, f"{refused}: a command refused what `verify` passes"
    assert "\n" not in refused + problems
    return "noticed"


def _without_last(events: list[Document]) -> list[Document]:
    assert events[-1]["reason"] == "after"
    return events[:-1]
