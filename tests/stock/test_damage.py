"""Damage is always noticed, never written over, and mended as far as two copies allow."""

from __future__ import annotations

import random
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from kb.base.errors import StoreError
from kb.stock.admission import record
from kb.stock.log import records
from kb.stock.log.head import Head
from kb.stock.log.tinystore import TinyStore
from tests.stock.factory import event, received, used

FULL = 64


def store_in(folder: Path) -> TinyStore:
    return TinyStore(folder, full=FULL)


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three hundred events in five segments."""
    folder = tmp_path_factory.mktemp("sound")
    store = store_in(folder)
    record(store, [received(f"L{n}", "50", reason="délivré") for n in range(100)])
    for start in range(0, 200, 10):
        record(store, [used(f"L{n % 100}", "0.5") for n in range(start, start + 10)])
    assert len(store.storage.head.segments) > 3
    return folder


@pytest.fixture
def workspace(sound: Path, tmp_path: Path) -> Path:
    shutil.copytree(sound, tmp_path / "lab")
    return tmp_path / "lab"


def kept(folder: Path) -> list[Path]:
    return sorted(p for p in (folder / "stock").rglob("*") if p.is_file() and p.name != "lock")


def read_by_every_command(folder: Path, path: Path) -> bool:
    """The copy and the previous head are for `verify` and `repair`; all else is read each time."""
    return path.name != "head.previous.json" and path.parent.name != "copy" and folder in path.parents


def assert_noticed(folder: Path, path: Path) -> None:
    assert store_in(folder).verify().problems, path
    if read_by_every_command(folder, path):
        with pytest.raises(StoreError, match=path.name) as told:
            store_in(folder).events()
        assert told.value.exit_status == 4
        before = {p: p.read_bytes() for p in kept(folder)}
        with pytest.raises(StoreError):
            record(store_in(folder), [received("new")])
        assert {p: p.read_bytes() for p in kept(folder)} == before, "a damaged store was written to"


def any_byte(dice: random.Random, folder: Path) -> tuple[Path, int]:
    """Half of the bytes anywhere; half in a file chosen first, so that the small ones get their share."""
    files = kept(folder)
    if dice.random() < 0.5:
        path = dice.choice(files)
    else:
        path = dice.choices(files, weights=[p.stat().st_size for p in files])[0]
    return path, dice.randrange(path.stat().st_size)


def test_a_file_cut_at_any_byte_is_noticed(workspace: Path) -> None:
    dice = random.Random(1)
    for _ in range(200):
        path, place = any_byte(dice, workspace)
        whole = path.read_bytes()
        path.write_bytes(whole[:place])
        assert_noticed(workspace, path)
        path.write_bytes(whole)
    assert store_in(workspace).verify().problems == ()


def test_a_flipped_bit_is_noticed(workspace: Path) -> None:
    dice = random.Random(2)
    for _ in range(200):
        path, place = any_byte(dice, workspace)
        whole = path.read_bytes()
        path.write_bytes(whole[:place] + bytes([whole[place] ^ 1 << dice.randrange(8)]) + whole[place + 1 :])
        assert_noticed(workspace, path)
        path.write_bytes(whole)
    assert store_in(workspace).verify().problems == ()


def test_a_file_cut_at_the_end_of_every_line_is_noticed(workspace: Path) -> None:
    """The place where a plain append-only file would look whole."""
    path = store_in(workspace).storage.segment_path("000002")
    whole = path.read_bytes()
    ends = [n + 1 for n, byte in enumerate(whole) if byte == ord("\n")]
    for end in [0, *ends[:-1]]:
        path.write_bytes(whole[:end])
        assert_noticed(workspace, path)


@pytest.mark.parametrize("name", ["head.json", "head.previous.json", "events/000001.jsonl", "copy/000003.jsonl"])
def test_a_file_that_is_gone_is_noticed(workspace: Path, name: str) -> None:
    path = workspace / "stock" / name
    path.unlink()
    assert store_in(workspace).verify().problems
    if read_by_every_command(workspace, path):
        with pytest.raises(StoreError, match="is missing"):
            store_in(workspace).events()


def test_an_older_head_put_back_is_noticed(workspace: Path) -> None:
    """A restored head would un-count the last events: the previous head gives it away."""
    head = workspace / "stock" / "head.json"
    old = head.read_bytes()
    record(store_in(workspace), [received("X")])
    record(store_in(workspace), [received("Y")])
    head.write_bytes(old)
    assert "does not lead to the present head" in store_in(workspace).verify().problems[0]


def test_damage_while_a_program_holds_the_store_in_memory_is_not_built_upon(workspace: Path) -> None:
    store = store_in(workspace)
    store.events()
    path = store.storage.segment_path(store.storage.head.segments[-1].name)
    path.write_bytes(path.read_bytes()[:-30])
    with pytest.raises(StoreError, match="bytes of"):
        record(store, [received("new")])
    assert store.verify().problems


def test_a_later_version_is_told_and_never_touched(workspace: Path) -> None:
    TinyStore(workspace, full=FULL, schema=2, migrations={1: lambda e: e}).append(set(), lambda _: [received("new")])
    before = {p: p.read_bytes() for p in kept(workspace)}
    old = store_in(workspace)
    actions: list[Callable[[], object]] = [
        old.events,
        old.verify,
        old.repair,
        lambda: record(old, [received("other")]),
    ]
    for act in actions:
        with pytest.raises(StoreError, match="later version") as told:
            act()
        assert told.value.exit_status == 4
    assert {p: p.read_bytes() for p in kept(workspace)} == before


def test_a_later_layout_is_told(workspace: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as patch:
        patch.setattr("kb.stock.log.head.LAYOUT", 2)
        (workspace / "stock" / "head.json").write_bytes(Head().written())
    with pytest.raises(StoreError, match=r"later version \(layout 2\)"):
        store_in(workspace).events()


def test_older_events_are_lifted_and_never_rewritten(workspace: Path) -> None:
    old = [p.read_bytes() for p in kept(workspace) if p.parent.name == "events"]
    newer = TinyStore(workspace, full=FULL, schema=2, migrations={1: lambda e: e | {"site": "main"}})
    assert all(e["site"] == "main" for e in newer.events())
    newer.append(set(), lambda _: [event("moved", "L1") | {"site": "annex"}])
    assert newer.events()[-1]["site"] == "annex"
    assert [e["site"] for e in newer.events({"L1"})] == ["main", "main", "main", "annex"]
    now = [p.read_bytes() for p in kept(workspace) if p.parent.name == "events"]
    assert now[:-1] == old


# -- repair


def aside(workspace: Path) -> Path:
    return workspace / "stock" / "damaged-1"


def damage(path: Path, place: int = 40) -> bytes:
    whole = path.read_bytes()
    path.write_bytes(whole[:place] + bytes([whole[place] ^ 4]) + whole[place + 1 :])
    return path.read_bytes()


@pytest.mark.parametrize("name", ["head.json", "head.previous.json", "events/000002.jsonl", "copy/000001.jsonl"])
def test_one_damaged_file_costs_nothing(workspace: Path, name: str) -> None:
    before = store_in(workspace).events()
    bad = damage(workspace / "stock" / name)
    report = store_in(workspace).repair()
    assert report.problems == ()
    assert store_in(workspace).events() == before
    assert store_in(workspace).verify().problems == ()
    assert (aside(workspace) / name).read_bytes() == bad
    assert record(store_in(workspace), [received("new")])[0]["id"] == 301


def test_nothing_is_done_to_a_sound_store(workspace: Path) -> None:
    before = {p: p.read_bytes() for p in kept(workspace)}
    report = store_in(workspace).repair()
    assert report.notes == ("nothing is damaged; nothing was changed",)
    assert {p: p.read_bytes() for p in kept(workspace)} == before


def line_of(path: Path, number: int) -> int:
    """Where the line of event `number` begins."""
    whole = path.read_bytes()
    return whole.index(b'{"id":%d,' % number)


def test_what_is_lost_in_both_copies_is_named_with_all_that_hangs_on_it(workspace: Path) -> None:
    """Event 6 received L5; without it the two uses of L5 (events 106 and 206) have nothing to be taken from."""
    for kept_in in ("events", "copy"):
        path = store_in(workspace).storage.segment_path("000001", kept_in)
        damage(path, line_of(path, 6) + 20)
    report = store_in(workspace).repair()
    assert report.problems[0] == "event 6 is lost: damaged in the file and in its copy"
    assert [p.split(":")[0] for p in report.problems[1:]] == ["event 106 was left out", "event 206 was left out"]
    assert report.events == 297
    ids = [e["id"] for e in store_in(workspace).events()]
    assert set(range(1, 301)) - set(ids) == {6, 106, 206}
    assert store_in(workspace).verify().problems == ()
    assert len((aside(workspace) / "left-out.jsonl").read_text().splitlines()) == 2


def test_two_different_lines_damaged_in_the_two_copies_cost_nothing(workspace: Path) -> None:
    before = store_in(workspace).events()
    for kept_in, number in (("events", 3), ("copy", 4)):
        path = store_in(workspace).storage.segment_path("000001", kept_in)
        damage(path, line_of(path, number) + 20)
    assert store_in(workspace).repair().problems == ()
    assert store_in(workspace).events() == before


def test_without_any_head_all_whole_lines_are_kept_and_the_doubt_is_said(workspace: Path) -> None:
    before = store_in(workspace).events()
    (workspace / "stock" / "head.json").unlink()
    report = store_in(workspace).repair()
    assert report.problems == ()
    assert store_in(workspace).events() == before
    assert any("event 300 is whole, though the head that counted it is gone" in note for note in report.notes)


def test_an_unacknowledged_line_is_not_resurrected(workspace: Path) -> None:
    store = store_in(workspace)
    store.events()
    line = records.written({"id": 301, **received("ghost")})
    path = store.storage.segment_path(store.storage.head.segments[-1].name)
    path.write_bytes(path.read_bytes() + line)
    assert store_in(workspace).verify().problems == ()
    assert "of a write that was interrupted" in store_in(workspace).verify().notes[0]
    damage(workspace / "stock" / "copy" / "000001.jsonl")
    store_in(workspace).repair()
    assert len(store_in(workspace).events()) == 300


def test_a_file_of_another_store_is_not_believed_though_its_lines_are_whole(workspace: Path, tmp_path: Path) -> None:
    before = store_in(workspace).events()
    record(store_in(tmp_path / "other"), [received(f"other{n}") for n in range(100)])
    stranger = store_in(tmp_path / "other").storage.segment_path("000001")
    shutil.copy(stranger, store_in(workspace).storage.segment_path("000001"))
    assert store_in(workspace).repair().problems == ()
    assert store_in(workspace).events() == before


def test_random_damage_to_one_file_never_costs_an_event(sound: Path, tmp_path: Path) -> None:
    dice = random.Random(3)
    before = store_in(sound).events()
    for number in range(40):
        folder = tmp_path / str(number)
        shutil.copytree(sound, folder)
        path, place = any_byte(dice, folder)
        whole = path.read_bytes()
        path.write_bytes(whole[:place] if number % 2 else whole[:place] + b"\x00" * 64 + whole[place + 64 :])
        report = store_in(folder).repair()
        assert report.problems == (), path
        assert store_in(folder).events() == before, path
        assert store_in(folder).verify().problems == ()


def test_verify_finds_sums_that_do_not_add_up(tmp_path: Path) -> None:
    """Written past the ledger, with every checksum right."""
    TinyStore(tmp_path).append(set(), lambda _: [received("A", "5"), used("A", "6")])
    problems = TinyStore(tmp_path).verify().problems
    assert problems == ("lot A: 6 mL asked for, and 5 mL are left; use what is left, or count the lot",)
    TinyStore(tmp_path / "b").append(set(), lambda _: [received("A", "5.0"), {"type": "eaten", "lot": "A"}])
    problems = TinyStore(tmp_path / "b").verify().problems
    assert problems[0] == "event 1: is not in canonical form"
    assert "'eaten' is not a type of event" in problems[1]
