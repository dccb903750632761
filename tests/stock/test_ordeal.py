"""A sample of the ordeal, by chance: each part of it in some seconds. `python -m tests.stock.ordeal` does all of it."""

from __future__ import annotations

import tempfile
from pathlib import Path

import pytest

from tests.stock.ordeal import damage, faults, kills, power, simulation

SEED = 20271
traced = pytest.mark.skipif(bool(faults.why_not()), reason=faults.why_not() or "-")


@pytest.fixture(autouse=True)
def _in_memory(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is tried doesn't hang on the speed of a disk."""
    if Path("/dev/shm").is_dir():
        monkeypatch.setattr(tempfile, "tempdir", "/dev/shm")


def test_what_a_killed_program_acknowledged_is_there_once() -> None:
    found = kills.run(150, SEED)
    assert found["kills"] == 150
    assert found["acknowledged"] > 10  # how many a program gets done before its end hangs on the machine


@traced
def test_a_system_call_that_fails_is_refused_and_leaves_nothing_behind() -> None:
    found = faults.run(100, SEED)
    assert found["calls failed"] == 100
    assert found["refused"] > found["in doubt"]


@traced
def test_a_power_cut_keeps_what_was_acknowledged() -> None:
    assert power.run(1000, SEED)["disks"] >= 1000


def test_damage_is_noticed_or_harmless_and_never_built_on() -> None:
    found = damage.run(600, SEED)
    assert found["noticed"] > 300


@pytest.mark.parametrize("part", range(5))
def test_a_long_life_agrees_with_a_plain_model(part: int) -> None:
    assert simulation.run(1000, SEED + part)["steps"] == 1000
