"""Proofs that count no more: kept through restarts and between servers, and dropped once they have run out."""

from __future__ import annotations

import threading
import time
from pathlib import Path

import pytest
from filelock import FileLock

from kb.base.errors import StoreError
from kb.web.ended import NAME, Ended


def test_what_one_server_ended_another_knows(tmp_path: Path) -> None:
    one, other = Ended(tmp_path / "lab"), Ended(tmp_path / "lab")
    assert "a" not in other
    one.add("a", 200.0, 100.0)
    other.add("b", 300.0, 100.0)
    for each in (one, other, Ended(tmp_path / "lab")):
        assert ("a" in each, "b" in each, "c" in each) == (True, True, False)


def test_what_has_run_out_is_dropped_and_no_proof_is_kept(tmp_path: Path) -> None:
    ended = Ended(tmp_path)
    ended.add("a-proof", 200.0, 100.0)
    ended.add("another", 400.0, 300.0)
    kept = (tmp_path / NAME).read_text()
    assert kept.startswith("400 ")
    assert len(kept.splitlines()) == 1
    assert "another" not in kept


@pytest.mark.parametrize("raw", [b"400\n", b"soon abc\n", b"\xff 1\n", b"400 abc def\n"])
def test_a_damaged_file_lets_nobody_in_and_says_how_it_is_mended(tmp_path: Path, raw: bytes) -> None:
    (tmp_path / NAME).write_bytes(raw)
    with pytest.raises(StoreError, match=r"is damaged.*session\.key"):
        assert "a" in Ended(tmp_path)


def test_who_looks_does_not_wait_for_another_server_that_writes(tmp_path: Path) -> None:
    ended = Ended(tmp_path)
    ended.add("a", 200.0, 100.0)
    with FileLock(tmp_path / f".{NAME}.lock"):
        leaving = threading.Thread(target=ended.add, args=("b", 200.0, 100.0))
        leaving.start()
        time.sleep(0.2)
        begun = time.monotonic()
        assert ("a" in ended, "b" in ended) == (True, False)
        assert time.monotonic() - begun < 1
    leaving.join()
    assert "b" in ended
