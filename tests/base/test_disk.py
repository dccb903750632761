"""Files are read no further than a bound, and are replaced as a whole or not at all."""

from __future__ import annotations

import errno
import os
from collections.abc import Callable
from pathlib import Path

import pytest

from kb.base import disk
from kb.base.errors import BadInput, StoreError


def _pipe(folder: Path) -> Path:
    os.mkfifo(folder / "pipe")
    return folder / "pipe"


def _sparse(folder: Path) -> Path:
    with (folder / "big").open("wb") as file:
        file.truncate(1_000_000_000)
    return folder / "big"


def _loop(folder: Path) -> Path:
    (folder / "loop").symlink_to(folder / "loop")
    return folder / "loop"


REFUSED: dict[str, tuple[Callable[[Path], Path], str]] = {
    "a pipe": (_pipe, "is a pipe or a device, not a file"),
    "a device without end": (lambda _: Path("/dev/zero"), "is a pipe or a device, not a file"),
    "a gigabyte": (_sparse, "has more than 20 MB"),
    "a folder": (lambda folder: folder, "is a folder, not a file"),
    "nothing": (lambda folder: folder / "none", "there is no such file"),
    "a link to itself": (_loop, "too many levels of symbolic links"),
    "a name too long": (lambda folder: folder / ("x" * 300), "file name too long"),
    "a name with a null": (lambda folder: folder / "a\0b", "can't be opened"),
}


@pytest.mark.parametrize(("make", "said"), REFUSED.values(), ids=REFUSED)
def test_what_is_no_file_of_a_sane_size_is_refused_before_it_is_read(
    tmp_path: Path, make: Callable[[Path], Path], said: str
) -> None:
    with pytest.raises(BadInput, match=said):
        disk.read(make(tmp_path))


def test_a_file_that_grows_while_it_is_read_is_bounded_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "log"
    path.write_bytes(b"x" * 10)
    real = os.fstat

    def grown(handle: int) -> os.stat_result:
        found = real(handle)
        path.write_bytes(b"x" * 100)
        return found

    monkeypatch.setattr(os, "fstat", grown)
    with pytest.raises(BadInput, match="has more than 50 bytes"):
        disk.read(path, most=50)


@pytest.mark.parametrize("size", [0, 1, 50])
def test_what_fits_is_read_to_its_end(tmp_path: Path, size: int) -> None:
    (tmp_path / "x").write_bytes(b"y" * size)
    assert disk.read(tmp_path / "x", most=50) == b"y" * size


def test_a_replacement_has_the_permissions_of_its_folder_and_leaves_no_part(tmp_path: Path) -> None:
    tmp_path.chmod(0o770)
    before = os.umask(0o077)
    try:
        disk.replace(tmp_path / "x", b"1")
    finally:
        os.umask(before)
    assert (tmp_path / "x").stat().st_mode & 0o777 == 0o660
    assert [path.name for path in tmp_path.iterdir()] == ["x"]


FAILS = ["fsync", "replace", "chmod"]


@pytest.mark.parametrize("call", FAILS)
def test_a_replacement_that_fails_leaves_what_was_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, call: str
) -> None:
    (tmp_path / "x").write_bytes(b"old")

    def full(*_: object, **__: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os if call == "fsync" else Path, call, full)
    with pytest.raises(StoreError, match="the disk is full; make room and try again"), disk.refusals(tmp_path / "x"):
        disk.replace(tmp_path / "x", b"new")
    assert (tmp_path / "x").read_bytes() == b"old"
    assert [path.name for path in tmp_path.iterdir()] == ["x"]


def test_where_the_name_is_given_and_the_folder_can_t_be_synced_it_is_said_to_be_in_doubt(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(_: Path) -> None:
        raise OSError(errno.EIO, "Input/output error")

    monkeypatch.setattr(disk, "sync_folder", fails)
    with pytest.raises(StoreError, match="it may have been written"), disk.refusals(tmp_path / "x"):
        disk.replace(tmp_path / "x", b"new")
    assert (tmp_path / "x").read_bytes() == b"new"


@pytest.mark.parametrize("links", [True, False])
def test_a_name_that_is_taken_is_never_taken_over(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, links: bool) -> None:
    def none(*_: object) -> None:
        raise OSError(errno.EPERM, "Operation not permitted")

    if not links:
        monkeypatch.setattr(os, "link", none)
    for content, given in ((b"first", True), (b"second", False)):
        (tmp_path / "fresh").write_bytes(content)
        assert disk.put_new(tmp_path / "fresh", tmp_path / "x") is given
        assert [path.name for path in tmp_path.iterdir()] == ["x"]
    assert (tmp_path / "x").read_bytes() == b"first"


def test_parts_left_by_ended_programs_go_and_those_of_others_stay(tmp_path: Path) -> None:
    for name, old in (("x.1-2.new", True), ("x.3-4.new", False), ("y.1-2.new", True)):
        (tmp_path / name).write_bytes(b"")
        if old:
            os.utime(tmp_path / name, (1_000_000_000, 1_000_000_000))
    disk.beside(tmp_path / "x")
    assert {path.name for path in tmp_path.iterdir()} == {"x.3-4.new", "y.1-2.new"}
