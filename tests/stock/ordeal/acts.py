"""What a lab does to its ledger, one thing at a time, each marked so that it is found again."""

from __future__ import annotations

import tempfile
from collections import Counter
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

from kb.base.documents import Documents
from kb.stock.backup import backup
from kb.stock.ledger import Ledger
from kb.stock.workspace import ledger_of
from kb.work.checking import verify
from kb.work.recording import record as keep
from kb.work.reserving import reserve
from tests.stock.factory import TODAY, event, received, used

#: Something that is done in a workspace, with a mark that no other has.
Act = Callable[[Path, str], object]


def _receive(workspace: Path, mark: str) -> object:
    return ledger_of(workspace).record([received(mark, reason=mark)], TODAY)


def _use(workspace: Path, mark: str) -> object:
    return ledger_of(workspace).record([used("A", "0.001", reason=mark)], TODAY)


def _late(workspace: Path, mark: str) -> object:
    return ledger_of(workspace).record([used("A", "0.001", at="2027-03-01", reason=mark)], TODAY)


def _bring(workspace: Path, mark: str) -> object:
    return ledger_of(workspace).record([received(f"{mark}-{n}", reason=mark) for n in range(12)], TODAY)


def _correct(workspace: Path, mark: str) -> object:
    draft = event("corrected", "A", corrects=1, change={"location": mark}, reason=mark)
    return ledger_of(workspace).record([draft], TODAY)


def _work(workspace: Path, mark: str) -> object:
    draws = [{"lot": lot, "quantity": "0.001", "unit": "mL"} for lot in "AB"]
    made = [{"installation": n, "outcome": "pass", "lots": ["A", "B"], "part": mark} for n in "12"]
    given = {"job": mark, "at": "2027-03-02", "who": "kim", "chain": {"adhesive": "x"}, "items": {"A": "x", "B": "x"}}
    return keep(ledger_of(workspace), {**given, "draws": draws, "installations": made}, TODAY)


def _reserve(workspace: Path, mark: str) -> object:
    return reserve(ledger_of(workspace), mark, [("A", Decimal(1), "mL")], "2027-03-02", "kim", TODAY)


def _call(workspace: Path, mark: str) -> object:
    Documents(workspace).put("words", "words", {"words": mark, "item": "acetone"})
    return None


def _back_up(workspace: Path, mark: str) -> object:
    return backup(ledger_of(workspace), workspace, workspace / f"{mark}.backup")


ACTS: dict[str, Act] = {
    "receive": _receive,
    "use": _use,
    "late": _late,
    "bring": _bring,
    "correct": _correct,
    "record": _work,
    "reserve": _reserve,
    "call": _call,
    "backup": _back_up,
}
#: How many entries each of them adds; what adds none is looked for elsewhere.
ADDS = {"receive": 1, "use": 1, "late": 1, "bring": 12, "correct": 1, "record": 3, "reserve": 1}


def begun(workspace: Path) -> Ledger:
    """A workspace with two lots in it, where they aren't there yet."""
    ledger = ledger_of(workspace)
    if "A" not in ledger.shelf().lots:
        ledger.record([received("A", "500", item="x"), received("B", "500", item="x")], TODAY)
    return ledger


def warm() -> None:
    """Do each of them once, so that a fork of this program needn't load or build anything."""
    with tempfile.TemporaryDirectory() as folder:
        begun(Path(folder))
        for name, act in ACTS.items():
            act(Path(folder), name)
        counts(Path(folder))("use", "use")
        faults_of(Path(folder))


def counts(workspace: Path) -> Callable[[str, str], int]:
    """How often an act is there in whole, by its name and mark; a part of it counts as -1."""
    if not workspace.exists():
        return lambda name, mark: 0  # noqa: ARG005
    ledger = ledger_of(workspace)
    events, work = ledger.documents("stock"), ledger.documents("work")
    marks = Counter(event.get("reason") for event in events)
    taught = Counter(row["words"] for row in Documents(workspace).rows("words"))
    jobs = Counter((one["type"], one["job"]) for one in work)
    numbers = {one["job"]: one["id"] for one in work if one["type"] == "installed"}
    draws = Counter(event.get("record") for event in events)

    def count(name: str, mark: str) -> int:
        if name == "call":
            return taught[mark]
        if name == "backup":
            path = workspace / f"{mark}.backup"
            return -1 if path.exists() and ledger_of_backup(path).verify().problems else int(path.exists())
        if name == "record":
            found = jobs["installed", mark] + (draws[numbers[mark]] if mark in numbers else 0)
        else:
            found = jobs["reserved", mark] if name == "reserve" else marks[mark]
        return found // ADDS[name] if found % ADDS[name] == 0 else -1

    return count


def ledger_of_backup(path: Path) -> Ledger:
    """The ledger that a backup is."""
    from kb.stock.stores.sqlite import SqliteStore

    return Ledger(SqliteStore(path))


def faults_of(workspace: Path) -> list[str]:
    """All that is wrong with a workspace."""
    Documents(workspace).everything()
    return [*verify(ledger_of(workspace)).problems]
