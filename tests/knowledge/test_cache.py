"""The compiled knowledge is a cache that is never trusted: stale, damaged or unwritable, the files decide."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path

import pytest

from kb import knowledge
from kb.knowledge import Knowledge
from kb.knowledge import cache as cache_module
from kb.knowledge.build import build
from kb.knowledge.cache import load, roots
from kb.knowledge.packing import pack, unpack
from kb.rules.clauses import AnyOf, Calculation, Clause, Condition, Ref

NOTE = 'id = "n"\nname = "{name}"\nfamily = "alcohol"\nlike = "isopropyl-alcohol"\nbasis = "memory"\n'


@pytest.fixture
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("TACKROOM_CACHE", str(tmp_path / "cache"))
    return tmp_path / "cache" / "tackroom"


def write(house: Path, name: str) -> Path:
    path = house / "catalog" / "degreaser" / "n.toml"
    path.parent.mkdir(exist_ok=True)
    path.write_text(NOTE.format(name=name))
    return path


def named(house: Path) -> str:
    return knowledge.load(house).entry("n").name


def test_same_knowledge_with_and_without_the_cache(cache: Path) -> None:
    first = knowledge.load()
    assert list(cache.glob("*.knowledge"))
    again = knowledge.load()
    assert first.entries == again.entries
    assert first.digest == again.digest
    assert [r.id for r in first.rules] == [r.id for r in again.rules]
    assert [r.when for r in first.rules] == [r.when for r in again.rules]


@pytest.mark.usefixtures("cache")
def test_a_change_is_seen_even_with_size_and_time_kept(house: Path) -> None:
    path = write(house, "one")
    assert named(house) == "one"
    stat = path.stat()
    path.write_text(NOTE.format(name="two"))
    os.utime(path, ns=(stat.st_atime_ns, stat.st_mtime_ns))
    assert named(house) == "two"


TICK_NS = 2_000_000_000


@pytest.mark.parametrize(("after_ns", "seen"), [(TICK_NS, "two"), (TICK_NS + 1, "one")])
@pytest.mark.usefixtures("cache")
def test_a_change_within_a_tick_of_the_clock_is_seen(
    after_ns: int, seen: str, house: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where a file system keeps times to two seconds, a second change within these leaves no trace but the content.

    Later than that, unchanged times say that nothing changed: no file is read.
    """
    begun = 10 * TICK_NS

    def coarse(where: Mapping[str, Path]) -> dict[str, tuple[int, ...]]:
        paths = sorted(path for root in where.values() for path in root.rglob("*.toml"))
        return {str(path): (path.stat().st_size, begun, begun, 1) for path in paths}

    monkeypatch.setattr(cache_module, "_stats", coarse)
    monkeypatch.setattr("time.time_ns", lambda: begun + after_ns)
    write(house, "one")
    assert named(house) == "one"
    write(house, "two")
    assert named(house) == seen


@pytest.mark.usefixtures("cache")
def test_a_new_and_a_deleted_file_are_seen(house: Path) -> None:
    path = write(house, "one")
    assert named(house) == "one"
    path.unlink()
    assert "n" not in knowledge.load(house).entries


def test_a_damaged_cache_is_not_trusted(cache: Path, house: Path) -> None:
    write(house, "one")
    named(house)
    (file,) = cache.glob("*.knowledge")
    whole = file.read_bytes()
    for at in range(0, len(whole), len(whole) // 9):
        file.write_bytes(whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :])
        assert named(house) == "one"
        file.write_bytes(whole[:at])
        assert named(house) == "one"


def test_an_unwritable_cache_is_done_without(tmp_path: Path, house: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").write_text("not a folder")
    monkeypatch.setenv("TACKROOM_CACHE", str(tmp_path / "file"))
    write(house, "one")
    assert named(house) == "one"


@pytest.mark.usefixtures("cache")
def test_the_digest_does_not_depend_on_the_place(knowledge: Knowledge) -> None:
    assert load(roots(None), build)[1] == knowledge.digest
    assert len(knowledge.digest) == 64


def test_conditions_survive_packing() -> None:
    calculation = Calculation("stiffening", {"part": {"modulus_gpa": "substrate.modulus_gpa"}}, "ratio")
    conditions: list[Condition] = [
        Clause("a.b", "one-of", ("x", "y")),
        Clause("a.b", "above", Ref("c.d", 2.5)),
        Clause(calculation, "above", 0.01),
        AnyOf((Clause("a.b", "is", True), Clause("a.c", "lacks", "z"))),
    ]
    for condition in conditions:
        assert unpack(pack(condition)) == condition
