"""Programs that are killed while they work: what they had acknowledged is there, once; the rest is whole or absent."""

from __future__ import annotations

import os
import random
import shutil
import signal
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterable
from pathlib import Path

from tests.stock.ordeal.acts import ACTS, begun, counts, faults_of, warm

#: An act by its name, and the mark that no other has.
Mark = tuple[str, str]
#: A fresh workspace is begun after so many kills, so that looking at it doesn't take longer and longer.
PER_WORKSPACE = 100
#: Nobody is let live for longer than this.
LONGEST_S = 0.06


def run(kills: int, seed: int = 1) -> Counter[str]:
    """Kill so many programs. Counts kills, acknowledged acts, and those that were there without having been told."""
    dice = random.Random(seed)
    found: Counter[str] = Counter()
    warm()
    while found["kills"] < kills:
        folder = Path(tempfile.mkdtemp(prefix="kills-"))
        try:
            _one_workspace(folder / "lab", min(PER_WORKSPACE, kills - found["kills"]), dice, found)
        finally:
            shutil.rmtree(folder)
    return found


def _one_workspace(workspace: Path, kills: int, dice: random.Random, found: Counter[str]) -> None:
    told: list[Mark] = []
    begun_acts: list[Mark] = []
    for life in range(kills):
        if life % 10 == 0 and dice.random() < 0.5 and not told:
            shutil.rmtree(workspace, ignore_errors=True)  # the first write ever is killed, too
        hear(a_life(workspace, f"life{life}", dice), begun_acts, told)
        found["kills"] += 1
        if (workspace / "ledger.sqlite3").exists():
            assert faults_of(workspace) == [], (workspace, life)
    must_be_there_once(workspace, begun_acts, told, found)


def hear(lines: Iterable[str], begun_acts: list[Mark], told: list[Mark], may_fail: bool = False) -> None:
    """Take in what a program said; that it failed only where it may have."""
    for line in lines:
        kind, name, mark = line.split(" ", 2)
        if kind == "crash":
            assert may_fail, line
            assert "StoreError" in line, line
            return
        (told if kind == "done" else begun_acts).append((name, mark))


def must_be_there_once(workspace: Path, begun_acts: list[Mark], told: list[Mark], found: Counter[str]) -> None:
    """Hold what is there against what was begun and what was acknowledged."""
    acknowledged, there = set(told), counts(workspace)
    for name, mark in begun_acts:
        count = there(name, mark)
        if (name, mark) in acknowledged:
            assert count == 1, f"{name} {mark} was acknowledged and is there {count} times"
            found["acknowledged"] += 1
        else:
            assert count in (0, 1), f"{name} {mark} is there in part, or twice"
            found["there, not told"] += count


def end_it(child: int) -> None:
    """Kill a program."""
    os.kill(child, signal.SIGKILL)


def a_life(
    workspace: Path,
    mark: str,
    dice: random.Random,
    end: Callable[[int], None] = end_it,
    longest_s: float = LONGEST_S,
    after: int = 0,
) -> list[str]:
    """What a program said before it was ended, at some moment after so many lines: the begin and end of each act."""
    names = dice.choices(list(ACTS), [1 if name == "backup" else 8 for name in ACTS], k=200)
    heard, says = os.pipe()
    child = os.fork()
    if child == 0:  # pragma: no cover
        os.close(heard)
        try:
            _works(workspace, mark, names, says)
        except BaseException as fault:
            os.write(says, f"crash of {fault!r}\n".encode())
        os._exit(0)
    os.close(says)
    said = b""
    while said.count(b"\n") < after and (more := os.read(heard, 4096)):
        said += more
    time.sleep(dice.uniform(0, longest_s))
    end(child)
    os.waitpid(child, 0)
    with os.fdopen(heard, "rb") as rest:
        return (said + rest.read()).decode().split("\n")[:-1]


def _works(workspace: Path, mark: str, names: list[str], says: int) -> None:  # pragma: no cover
    begun(workspace)
    for number, name in enumerate(names):
        own = f"{mark}-{number}"
        os.write(says, f"begin {name} {own}\n".encode())
        ACTS[name](workspace, own)
        os.write(says, f"done {name} {own}\n".encode())
