"""A cache is believed only where nobody but the user can have written it, and is done without otherwise."""

from __future__ import annotations

import marshal
import os
from collections.abc import Callable
from pathlib import Path

import pytest

from kb.base import caches

HEAD = caches.header("test 1")
VALUE = {"a": (1, 2.5, "x"), "b": None}


@pytest.fixture
def kept(tmp_path: Path) -> Path:
    path = tmp_path / "tackroom" / "x.cache"
    caches.write(path, HEAD, VALUE)
    assert caches.read(path, HEAD) == VALUE
    return path


def test_it_is_the_user_s_alone(kept: Path) -> None:
    assert kept.stat().st_mode & 0o777 == 0o600
    assert [path.name for path in kept.parent.iterdir()] == ["x.cache"]


def _linked(path: Path) -> None:
    path.rename(path.with_name("elsewhere"))
    path.symlink_to(path.with_name("elsewhere"))


def _a_pipe(path: Path) -> None:
    path.unlink()
    os.mkfifo(path)


def _a_folder(path: Path) -> None:
    path.unlink()
    path.mkdir()


def _a_device(path: Path) -> None:
    path.unlink()
    path.symlink_to("/dev/zero")


def _of_another(path: Path) -> None:
    if os.geteuid() != 0:
        pytest.skip("giving a file away needs root")
    os.chown(path, 65534, -1)


HOSTILE: dict[str, Callable[[Path], None]] = {
    "of another user": _of_another,
    "a group may write to it": lambda path: path.chmod(0o620),
    "everybody may write to it": lambda path: path.chmod(0o602),
    "a link": _linked,
    "a pipe": _a_pipe,
    "a folder": _a_folder,
    "a link to a device": _a_device,
}


@pytest.mark.parametrize("harm", HOSTILE.values(), ids=HOSTILE)
def test_what_others_may_have_written_is_not_believed(kept: Path, harm: Callable[[Path], None]) -> None:
    harm(kept)
    assert caches.read(kept, HEAD) is None


def test_every_cut_and_flip_is_seen(kept: Path) -> None:
    whole = kept.read_bytes()
    for at in range(len(whole)):
        for content in (whole[:at], whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :]):
            kept.write_bytes(content)
            assert caches.read(kept, HEAD) is None


@pytest.mark.parametrize("body", [b"", marshal.dumps(VALUE)[:-3], b"\xff\xff", b"[\xff\xff\xff\x7f"])
def test_a_body_that_is_no_value_is_not_believed_even_with_its_digest(kept: Path, body: bytes) -> None:
    import hashlib

    kept.write_bytes(HEAD + hashlib.sha256(body).digest() + body)
    assert caches.read(kept, HEAD) is None


def test_another_form_is_another_thing(kept: Path) -> None:
    assert caches.read(kept, caches.header("test 2")) is None


def test_a_link_in_its_place_is_replaced_and_never_written_through(kept: Path) -> None:
    aim = kept.with_name("aim")
    aim.write_text("precious")
    kept.unlink()
    kept.symlink_to(aim)
    caches.write(kept, HEAD, VALUE)
    assert aim.read_text() == "precious"
    assert caches.read(kept, HEAD) == VALUE


def test_parts_that_ended_programs_left_are_taken_away_and_fresh_ones_not(kept: Path) -> None:
    old, fresh = kept.with_name("y.cache.77.part"), kept.with_name("y.cache.78.part")
    for path in (old, fresh):
        path.write_bytes(b"x")
    os.utime(old, (1_000_000_000, 1_000_000_000))
    caches.write(kept, HEAD, VALUE)
    assert {path.name for path in kept.parent.iterdir()} == {"x.cache", fresh.name}


def test_a_folder_that_can_t_be_written_is_done_without(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("no folder")
    caches.write(tmp_path / "file" / "x.cache", HEAD, VALUE)
    assert caches.read(tmp_path / "file" / "x.cache", HEAD) is None


@pytest.mark.parametrize(
    ("named", "found"),
    [
        ({"TACKROOM_CACHE": "/c", "XDG_CACHE_HOME": "/x"}, "/c/tackroom"),
        ({"XDG_CACHE_HOME": "/x"}, "/x/tackroom"),
        ({"HOME": "/home/kim"}, "/home/kim/.cache/tackroom"),
    ],
)
def test_where_they_are(monkeypatch: pytest.MonkeyPatch, named: dict[str, str], found: str) -> None:
    for name in ("TACKROOM_CACHE", "XDG_CACHE_HOME", "HOME"):
        monkeypatch.delenv(name, raising=False)
    for name, value in named.items():
        monkeypatch.setenv(name, value)
    assert str(caches.folder()) == found


def test_a_user_without_a_home_keeps_none(monkeypatch: pytest.MonkeyPatch) -> None:
    def nobody() -> Path:
        raise RuntimeError("no home")

    monkeypatch.delenv("TACKROOM_CACHE", raising=False)
    monkeypatch.delenv("XDG_CACHE_HOME", raising=False)
    monkeypatch.setattr(Path, "home", nobody)
    assert caches.folder() is None


def test_users_who_share_a_folder_have_each_their_own(monkeypatch: pytest.MonkeyPatch) -> None:
    mine = caches.key("/lab")
    monkeypatch.setattr(os, "geteuid", lambda: 4711)
    assert caches.key("/lab") != mine != caches.key("/lab", "x")
