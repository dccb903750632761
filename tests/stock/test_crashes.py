"""Nothing acknowledged is ever lost, and nothing is ever half there: killed, crowded, full, or read-only."""

from __future__ import annotations

import os
import random
import shutil
import signal
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from kb.base.errors import StoreError
from kb.stock.admission import record
from kb.stock.log import files
from kb.stock.log.store import Report
from kb.stock.log.tinystore import TinyStore
from tests.stock.factory import received

ROOT = Path(__file__).parents[2]


def writer(workspace: Path, name: str, count: int, batch: int = 0) -> subprocess.Popen[str]:
    words = [sys.executable, "-m", "tests.stock.writer", str(workspace), name, str(count), str(batch)]
    return subprocess.Popen(words, cwd=ROOT, stdout=subprocess.PIPE, text=True)


def acknowledged(output: str) -> set[tuple[int, str]]:
    """Whole lines only: the last one may have been cut by the kill."""
    lines = output.split("\n")[:-1]
    return {(int(line.split(" ", 1)[0]), line.split(" ", 1)[1]) for line in lines}


def stored(workspace: Path) -> list[tuple[int, str]]:
    return [(event["id"], event["lot"]) for event in TinyStore(workspace).events()]


def test_killed_at_random_moments_during_500_writes(tmp_path: Path) -> None:
    dice = random.Random(6)
    told: set[tuple[int, str]] = set()
    writes = lives = 0
    while writes < 500:
        lives += 1
        program = writer(tmp_path, f"life{lives}", 500 - writes, batch=20)
        assert program.stdout is not None
        first = program.stdout.readline()
        time.sleep(dice.uniform(0.0, 0.12))
        program.send_signal(signal.SIGKILL)
        said = first + program.stdout.read()
        program.wait()
        told |= acknowledged(said)
        writes += len({lot.rsplit("-", 1)[0] if lot.count("-") == 2 else lot for _, lot in acknowledged(said)})
        report = TinyStore(tmp_path).verify()
        assert report.problems == ()
    there = stored(tmp_path)
    assert told <= set(there)
    assert len(set(there)) == len(there)
    # What was stored and not acknowledged is at most one write of each life, and a batch is whole or absent.
    reasons = Counter(event["reason"] for event in TinyStore(tmp_path).events())
    assert set(reasons.values()) <= {1, 20}
    assert lives > 10


def test_eight_programs_write_200_events_each(tmp_path: Path) -> None:
    programs = [writer(tmp_path, f"program{number}", 200) for number in range(8)]
    told = [acknowledged(program.communicate()[0]) for program in programs]
    assert [len(lines) for lines in told] == [200] * 8
    there = stored(tmp_path)
    assert len(there) == 1600
    assert set(there) == set().union(*told)
    assert [number for number, _ in there] == list(range(1, 1601))
    assert TinyStore(tmp_path).verify().problems == ()


class Crash(BaseException):
    """The machine stops here."""


STEPS = ("write", "fsync", "ftruncate", "link", "unlink", "rename", "replace", "open")


def crash_at(step: int, patch: pytest.MonkeyPatch) -> list[str]:
    """Let the `step`-th call to the operating system be the last; returns the calls as they come."""
    calls: list[str] = []

    def wrap(name: str, real: Any) -> Any:
        def call(*words: Any, **more: Any) -> Any:
            calls.append(name)
            if len(calls) == step:
                if name == "write":  # half of it gets through
                    real(words[0], bytes(words[1])[: len(words[1]) // 2])
                raise Crash
            return real(*words, **more)

        return call

    for name in STEPS:
        patch.setattr(os, name, wrap(name, getattr(os, name)))
    return calls


@pytest.mark.parametrize("before", [0, 2, 3], ids=["first write ever", "open segment", "new segment"])
def test_a_crash_at_every_step_of_a_write(tmp_path: Path, before: int) -> None:
    """At each call to the operating system in turn: the store is as before or as after, and goes on."""
    step, lived = 0, False
    while not lived:
        step += 1
        workspace = tmp_path / str(step)
        for number in range(before):
            record(TinyStore(workspace, full=3), [received(f"old{number}")])
        with pytest.MonkeyPatch.context() as patch:
            calls = crash_at(step, patch)
            try:
                record(TinyStore(workspace, full=3), [received(f"new{n}") for n in range(2)])
                lived = True
            except Crash:
                pass
        assert lived or len(calls) >= step
        there = len(stored(workspace))
        assert there == before + 2 if lived else there in (before, before + 2)
        assert TinyStore(workspace, full=3).verify().problems == ()
        record(TinyStore(workspace, full=3), [received("later")])
        assert len(stored(workspace)) == there + 1
        assert TinyStore(workspace, full=3).verify().notes == ()
        shutil.rmtree(workspace)
    assert step > 8


@pytest.mark.parametrize("name", ["write", "fsync", "link", "ftruncate"])
def test_a_refusal_by_the_disk_is_one_line_and_leaves_no_trace(
    tmp_path: Path, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    record(TinyStore(tmp_path), [received("old")])

    def refuse(*_: Any) -> Any:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(os, name, refuse)
        if name == "link":  # no hard links here: a copy will do
            record(TinyStore(tmp_path), [received("new")])
        else:
            with pytest.raises(StoreError, match="the disk is full; make room and try again") as refused:
                record(TinyStore(tmp_path), [received("new")])
            assert refused.value.exit_status == 4
            assert "\n" not in str(refused.value)
    assert len(stored(tmp_path)) == (2 if name == "link" else 1)
    report = TinyStore(tmp_path).verify()
    assert (report.problems, report.notes) == ((), ())
    assert not list(tmp_path.rglob("*.new"))


def mounted(folder: Path, *options: str) -> Iterator[Path]:
    """A mount for the length of a test; skips where this user may not mount."""
    folder.mkdir(exist_ok=True)
    if os.geteuid() != 0 or shutil.which("mount") is None:
        pytest.skip("mounting a small file system needs root")
    done = subprocess.run(["mount", *options, str(folder)], capture_output=True, text=True)
    if done.returncode:
        pytest.skip(f"mount is not allowed here: {done.stderr.strip()}")
    try:
        yield folder
    finally:
        subprocess.run(["umount", str(folder)], check=True)


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    yield from mounted(tmp_path / "small", "-t", "tmpfs", "-o", "size=256k", "tmpfs")


def test_a_full_disk_refuses_and_loses_nothing(small_disk: Path) -> None:
    told, refusal = 0, None
    while refusal is None and told < 5000:
        try:
            told += len(record(TinyStore(small_disk), [received(f"L{told}", reason="r" * 200)]))
        except StoreError as error:
            refusal = error
    assert "the disk is full" in str(refusal)
    assert told > 50
    assert [event["lot"] for event in TinyStore(small_disk).events()] == [f"L{n}" for n in range(told)]
    assert TinyStore(small_disk).verify() == Report(told)
    with pytest.raises(StoreError, match="the disk is full"):
        record(TinyStore(small_disk), [received(f"B{n}", reason="r" * 200) for n in range(2000)])
    assert len(TinyStore(small_disk).events()) == told
    assert TinyStore(small_disk).verify().problems == ()


@pytest.fixture
def read_only(tmp_path: Path) -> Iterator[Path]:
    """A workspace that holds one event, mounted so that not even root can write to it."""
    source = tmp_path / "source"
    record(TinyStore(source), [received("A")])
    if os.geteuid() == 0:
        yield from mounted(tmp_path / "read-only", "-o", "ro,bind", str(source))
        return
    for path in (source / "stock", *(source / "stock").rglob("*")):
        path.chmod(0o555 if path.is_dir() else 0o444)
    yield source
    (source / "stock").chmod(0o755)


def test_a_read_only_folder_can_be_read_and_refuses_writes(read_only: Path) -> None:
    assert len(TinyStore(read_only).events()) == 1
    assert TinyStore(read_only).verify().problems == ()
    with pytest.raises(StoreError, match=r"read-only|may not be written") as refused:
        record(TinyStore(read_only), [received("B")])
    assert "\n" not in str(refused.value)
    assert len(TinyStore(read_only).events()) == 1


def test_a_held_lock_is_told(tmp_path: Path) -> None:
    holder = TinyStore(tmp_path)
    with holder.storage.locked(1), pytest.raises(StoreError, match="another program is writing") as refused:
        record(TinyStore(tmp_path, wait_s=0.05), [received("A")])
    assert refused.value.exit_status == 4
    assert record(TinyStore(tmp_path, wait_s=0.05), [received("A")])[0]["id"] == 1


def test_a_failed_write_beside_leaves_no_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "fsync", lambda _: (_ for _ in ()).throw(OSError(5, "Input/output error")))
    with pytest.raises(OSError, match="Input/output"):
        files.write_beside(tmp_path / "head.json", b"{}")
    assert list(tmp_path.iterdir()) == []
