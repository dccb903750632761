"""`choose` writes a chain into the job file and leaves the rest as it was; later commands follow it."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest

from tests.test_cli import run

JOB = Path(__file__).parents[2] / "generic_catalog" / "demo" / "1-board.toml"


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = tmp_path / "board.toml"
    path.write_text("# by hand\n" + JOB.read_text())
    return path


def test_a_chain_is_kept_and_followed_and_let_go(job: Path) -> None:
    before = job.read_text()
    second = json.loads(run("compare", str(job), "1", "2", "--json").stdout)["b"]["items"]
    assert run("choose", str(job), "2").returncode == 0
    text = job.read_text()
    assert text.startswith(before.rstrip())
    assert tomllib.loads(text)["choose"]["adhesive"] == second["adhesive"]
    for command in ("plan", "estimate"):
        answer = json.loads(run(command, str(job), "--json").stdout)
        items = answer["chains"][0]["items"] if command == "plan" else answer["chain"]["items"]
        assert {name: items[name] for name in ("adhesive", "backing", "coatings")} == {
            name: second[name] for name in ("adhesive", "backing", "coatings")
        }
    assert run("choose", str(job), "--undo").returncode == 0
    assert job.read_text().rstrip() == before.rstrip()


def test_another_choice_is_made_among_all_chains(job: Path) -> None:
    first = json.loads(run("plan", str(job), "--json").stdout)["chains"][0]["items"]["adhesive"]
    run("choose", str(job), "3")
    run("choose", str(job), "1")
    assert tomllib.loads(job.read_text())["choose"]["adhesive"] == first


def test_what_was_not_chosen_can_not_be_let_go(job: Path) -> None:
    before = job.read_text()
    answer = run("choose", str(job), "--undo")
    assert answer.returncode == 2
    assert "has no [choose]" in answer.stderr
    assert job.read_text() == before
