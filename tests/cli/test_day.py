"""`estimate` and `bench` on the command line: documents, exit status, and one line for each fault."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

JOB = """
[part]
substrate = "solder-masked board"
surface = ["solder-masked"]
clamping = "thumb-only"
[service]
temperature_c = [15, 35]
[batch]
boards = {boards}
gauges_per_board = 4
expected_yield = {share}
[bench]
relative_humidity_pct = {humidity}
part_temperature_c = {part}
room_volume_m3 = {volume}
air_changes_per_h = {changes}
"""
USUAL = {"boards": 2, "share": 0.95, "humidity": 45, "part": 22, "volume": 60, "changes": 4}


@pytest.fixture
def job(tmp_path: Path):  # type: ignore[no-untyped-def]
    def write(**changed: float) -> str:
        path = tmp_path / "job.toml"
        path.write_text(JOB.format(**{**USUAL, **changed}), encoding="utf-8")
        return str(path)

    return write


def run(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, "-m", "kb", *words], capture_output=True, text=True, check=False)


def test_estimate(job) -> None:  # type: ignore[no-untyped-def]
    told = run("estimate", job(), "--json")
    assert (told.returncode, told.stderr) == (0, "")
    assert json.loads(told.stdout)["schema"] == "tackroom.estimate/1"
    assert "BRING" in run("estimate", job()).stdout


def test_another_chain(job) -> None:  # type: ignore[no-untyped-def]
    told = run("estimate", job(), "--chain", "2", "--json")
    assert json.loads(told.stdout)["chain"]["rank"] == 2


def test_a_closet_ends_with_1(job) -> None:  # type: ignore[no-untyped-def]
    told = run("estimate", job(boards=40, volume=3, changes=0.1), "--json")
    assert told.returncode == 1
    rules = {finding["rule"] for finding in json.loads(told.stdout)["findings"]}
    assert rules & {"air-passes-limit", "air-additive-effect"}


def test_too_low_a_yield_is_one_line(job) -> None:  # type: ignore[no-untyped-def]
    told = run("estimate", job(share=1e-6))
    assert (told.returncode, told.stdout, told.stderr.count("\n")) == (2, "", 1)
    assert "attempts" in told.stderr


@pytest.mark.parametrize(
    ("changed", "status", "verdict"),
    [
        ({}, 0, "go"),
        ({"humidity": 0}, 1, "wait"),
        ({"humidity": 14}, 1, "wait"),
        ({"part": 4}, 1, "stop"),
    ],
)
def test_bench(job, changed: dict[str, float], status: int, verdict: str) -> None:  # type: ignore[no-untyped-def]
    told = run("bench", job(**changed), "--json")
    assert (told.returncode, told.stderr) == (status, "")
    assert json.loads(told.stdout)["verdict"] == verdict


def test_no_chain_ends_with_3(job, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    path = tmp_path / "hot.toml"
    path.write_text(Path(job()).read_text().replace("[15, 35]", "[-270, 1200]"), encoding="utf-8")
    for command in ("estimate", "bench"):
        told = run(command, str(path))
        assert (told.returncode, told.stdout, told.stderr.count("\n")) == (3, "", 1)
