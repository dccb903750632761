"""Disks as a power cut may leave them: what was not synced is lost, torn or reordered; what was acknowledged is there.

`strace` writes down every write, sync and name that acts bring about. From that, disks are made up as they may be at
any moment: of each file all that was synced, and of the rest any part of it, down to single sectors; of the names of
a folder all that was synced, and any of the others.
"""

from __future__ import annotations

import os
import random
import re
import shutil
import subprocess
import tempfile
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

from kb.base.errors import TackroomError
from tests.stock.ordeal.acts import ACTS, begun, counts, faults_of, warm
from tests.stock.ordeal.faults import why_not

__all__ = ["run", "why_not"]

SECTOR = 512
_CALL = re.compile(r"^(\w+)\((.*)\)\s+= (-?\d+)")
_TEXT = re.compile(r'"((?:\\x[0-9a-f]{2})*)"')
_TRACED = "openat,close,pwrite64,write,ftruncate,fsync,fdatasync,unlink,link,rename,access"
_MARK = "/acknowledged/"


class Op(NamedTuple):
    """One thing done to the disk: `data`, `cut`, `sync`, `name` (and what that took the name from, in `content`),
    `unname`, `folder` (its names were synced), or `mark` (an act was acknowledged)."""

    kind: str
    inode: int = 0
    path: str = ""
    offset: int = 0
    content: bytes = b""


def run(count: int, seed: int = 1) -> Counter[str]:
    """Make up so many disks; counts them, and the acts that must have been on them."""
    warm()
    dice = random.Random(seed)
    found: Counter[str] = Counter()
    with tempfile.TemporaryDirectory(prefix="power-") as name:
        folder = Path(name)
        while found["disks"] < count:
            shutil.rmtree(folder / "lab", ignore_errors=True)
            (folder / "lab").mkdir()
            if dice.random() < 0.7:
                begun(folder / "lab")
            before = {path.name: path.read_bytes() for path in (folder / "lab").iterdir()}
            acts = [(dice.choice(list(ACTS)), f"mark{n}") for n in range(4)]
            ops = list(_done(folder / "lab", acts, before))
            for _ in range(min(200, count - found["disks"])):
                _one(folder / "cut", before, acts, ops, dice, found)
    return found


def _one(
    folder: Path,
    before: dict[str, bytes],
    acts: Sequence[tuple[str, str]],
    ops: Sequence[Op],
    dice: random.Random,
    found: Counter[str],
) -> None:
    until = dice.randrange(len(ops) + 1)
    acknowledged = {op.path for op in ops[:until] if op.kind == "mark"}
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    for name, content in _left(before, ops[:until], dice).items():
        (folder / name).write_bytes(content)
    what = f"after {until} of {len(ops)} operations of {acts}"
    try:
        problems, there = faults_of(folder), counts(folder)
    except TackroomError as fault:
        raise AssertionError(f"{what}: {fault}") from None
    assert problems == [], what
    for act, mark in acts:
        number = there(act, mark)
        assert number in ((1,) if mark in acknowledged else (0, 1)), f"{what}: {act} {mark} is there {number} times"
    found["disks"] += 1
    found["acknowledged acts looked for"] += len(acknowledged)


def _left(before: dict[str, bytes], ops: Sequence[Op], dice: random.Random) -> dict[str, bytes]:
    """The files that may be left by a cut after these operations."""
    synced = {op.inode: place for place, op in enumerate(ops) if op.kind == "sync"}
    folder = max((place for place, op in enumerate(ops) if op.kind == "folder"), default=-1)
    keeps = dice.choice((0.0, 0.5, 0.9, 1.0))
    contents: dict[int, bytearray] = {-n: bytearray(content) for n, content in enumerate(before.values(), 1)}
    names = {name: -n for n, name in enumerate(before, 1)}
    for place, op in enumerate(ops):
        if op.kind in ("data", "cut"):
            certain = place < synced.get(op.inode, -1)
            _write(contents.setdefault(op.inode, bytearray()), op, None if certain else (dice, keeps))
        elif op.kind in ("name", "unname") and (place < folder or dice.random() < keeps):
            for gone in (op.path, op.content.decode()):
                names.pop(gone, None)
            if op.kind == "name":
                names[op.path] = op.inode
    return {name: bytes(contents.get(inode, b"")) for name, inode in names.items()}


def _write(content: bytearray, op: Op, doubt: tuple[random.Random, float] | None) -> None:
    """Do an operation on a file; where it is in doubt, not at all, in whole, or sector by sector."""
    dice, keeps = doubt or (random.Random(0), 1.0)
    if op.kind == "cut":
        if dice.random() < keeps:
            del content[op.offset :]
            content.extend(b"\0" * (op.offset - len(content)))
        return
    torn = doubt is not None and dice.random() < 0.3
    if not torn and dice.random() >= keeps:
        return
    for start in range(0, len(op.content), SECTOR):
        if not torn or dice.random() < 0.5:
            piece, offset = op.content[start : start + SECTOR], op.offset + start
            content.extend(b"\0" * (offset - len(content)))
            content[offset : offset + len(piece)] = piece


def _done(workspace: Path, acts: Sequence[tuple[str, str]], before: Iterable[str]) -> Iterator[Op]:
    """Do the acts in a program of its own; every operation on the disk, and where each was acknowledged."""
    waits, goes = os.pipe()
    child = os.fork()
    if child == 0:  # pragma: no cover
        os.read(waits, 1)
        for act, mark in acts:
            try:
                ACTS[act](workspace, mark)
            except TackroomError:
                continue
            os.access(f"{_MARK}{mark}", os.F_OK)
        os._exit(0)
    log = workspace.parent / "strace.log"
    words = ["strace", "-p", str(child), "-o", str(log), "-xx", "-s", "10000000", "-e", f"trace={_TRACED}"]
    tracer = subprocess.Popen(words, stderr=subprocess.PIPE, text=True)
    assert tracer.stderr is not None
    assert "attached" in tracer.stderr.readline()
    os.write(goes, b"x")
    os.waitpid(child, 0)
    tracer.stderr.read()
    tracer.wait()
    for end in (waits, goes):
        os.close(end)
    return _ops(log.read_text(), workspace, before)


def _ops(log: str, workspace: Path, before: Iterable[str]) -> Iterator[Op]:
    """The operations that a log tells of, on files of the workspace; what was there before has inodes below 0."""
    names = {name: -n for n, name in enumerate(before, 1)}
    handles: dict[int, tuple[int | None, int]] = {}  # the inode (None: the folder itself) and the place in the file
    fresh = 0
    for line in log.splitlines():
        match = _CALL.match(line)
        if match is None or (int(match[3]) < 0 and match[1] != "access"):
            continue
        call, words, result = match[1], match[2], int(match[3])
        texts = [bytes.fromhex(text.replace("\\x", "")) for text in _TEXT.findall(words)]
        numbers = [int(n) for n in re.findall(r"(?:^|, )(\d+)(?=,|$)", _TEXT.sub('""', words))]
        paths = [_within(text, workspace) for text in texts] if call in _NAMING else []
        if call == "access" and texts[0].decode().startswith(_MARK):
            yield Op("mark", path=texts[0].decode().removeprefix(_MARK))
        elif call == "openat" and paths[0] is not None:
            name = paths[0]
            if name and name not in names:
                fresh += 1
                names[name] = fresh
                yield Op("name", fresh, name)
            handles[result] = (names[name] if name else None, 0)
            if name and "O_TRUNC" in words:
                yield Op("cut", names[name])
        elif call == "unlink" and paths[0] is not None:
            del names[paths[0]]
            yield Op("unname", path=paths[0])
        elif call in ("link", "rename") and paths[1] is not None and paths[0] is not None:
            names[paths[1]] = names[paths[0]]
            gone = paths[0] if call == "rename" else ""
            if gone:
                del names[gone]
            yield Op("name", names[paths[1]], paths[1], content=gone.encode())
        elif call == "close":
            handles.pop(numbers[0], None)
        elif numbers and numbers[0] in handles:
            inode, place = handles[numbers[0]]
            if call in ("fsync", "fdatasync"):
                yield Op("folder") if inode is None else Op("sync", inode)
            elif inode is not None and call == "ftruncate":
                yield Op("cut", inode, offset=numbers[1])
            elif inode is not None:
                at = numbers[-1] if call == "pwrite64" else place
                handles[numbers[0]] = (inode, at + result)
                yield Op("data", inode, offset=at, content=texts[0][:result])


_NAMING = ("openat", "unlink", "link", "rename", "access")


def _within(path: bytes, workspace: Path) -> str | None:
    """The name of a file of the workspace; "" for the folder itself, None for what is elsewhere."""
    found = Path(os.fsdecode(path))
    if found == workspace:
        return ""
    return found.name if found.parent == workspace else None
