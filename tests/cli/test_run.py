"""The run in a terminal: a dead lot is refused, it goes on where it was left, and the record is what was done."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from kb.cli import run as terminal
from kb.cli.stock_common import open_items
from kb.cli.work import asked
from kb.planning.procedure import procedure
from kb.stock.receiving import Barred
from kb.stock.workspace import ledger_of
from kb.work.run import happened, keep, recorded
from kb.work.run import record as write_record
from tests.stock.factory import record
from tests.web.addresses import fill

JOB = """
[job]
name = "terminal"
[part]
substrate = "aluminium 6061"
[service]
temperature_c = [15, 35]
[choose]
adhesive = "ethyl-cyanoacrylate-low-viscosity"
"""


def run(*words: str, said: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "kb", "run", *words]
    return subprocess.run(command, input=said, capture_output=True, text=True, check=False)


@pytest.fixture
def job(tmp_path: Path) -> Path:
    fill(tmp_path / "lab")
    path = tmp_path / "job.toml"
    path.write_text(JOB, encoding="utf-8")
    return path


def test_it_is_left_and_gone_on_with(job: Path, tmp_path: Path) -> None:
    where = ("--workspace", str(tmp_path / "lab"), "--who", "kim")
    first = run(str(job), *where, said="\nn the phone rang\nq\n")
    assert first.returncode == 0, first.stderr
    assert "1 of " in first.stdout
    name = re.search(r"--run (run-\w+)", first.stdout)
    assert name is not None
    kept = happened(ledger_of(tmp_path / "lab", print), name[1])
    assert [event["kind"] for event in kept] == ["who", "done", "note"]
    again = run(str(job), *where, "--run", name[1], said="q\n")
    assert re.search(r"^(2 of |Wait until )", again.stdout, re.MULTILINE)
    assert "\n1 of " not in again.stdout


def test_a_whole_run_is_recorded(job: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TACKROOM_TODAY", "2027-03-01")
    prompts: list[str] = []
    dead = ["CA-05"]

    def answered(prompt: str) -> str:
        prompts.append(prompt)
        if prompt.startswith("Lot of ethyl"):
            return dead.pop() if dead else "CA-07"
        if prompt.startswith("Lot of"):
            return str(re.findall(r"one of ([^,)]+)", prompt)[0])
        if prompt.startswith("Gauge"):
            return "2000" if "ohm" in prompt else "0.1"
        assert len(prompts) < 300, "it goes round"
        return "e it is enough" if prompt.startswith("waiting") else ""

    monkeypatch.setattr(terminal, "_asked", answered)
    terminal.run(job, gauges=1, name="R", chain=1, who="kim", workspace=tmp_path / "lab")
    document = recorded(ledger_of(tmp_path / "lab", print), "R")
    assert document is not None
    (one,) = document["installations"]
    assert one["outcome"] == "pass"
    assert "CA-07" in one["lots"]
    assert sum(prompt.startswith("Lot of ethyl") for prompt in prompts) == 2, "the dead lot was refused"
    steps = [row["step"] for row in document["times"]]
    assert steps == list(range(1, len(steps) + 1))


def test_two_gauges_go_through_together_and_one_is_named(job: Path, tmp_path: Path) -> None:
    where = ("--workspace", str(tmp_path / "lab"), "--who", "kim", "--gauges", "2")
    said = "2\nx it fell\nq\n"
    first = run(str(job), *where, said=said)
    assert first.returncode == 0, first.stderr
    assert "1 of 27, degrease, gauges 1, 2" in first.stdout
    name = re.search(r"--run (run-\w+)", first.stdout)
    assert name is not None
    kept = happened(ledger_of(tmp_path / "lab", print), name[1])
    assert [(event["kind"], event["installations"]) for event in kept[1:]] == [("done", ["2"]), ("fail", ["1"])]


def test_of_several_the_one_to_reject_is_named(job: Path, tmp_path: Path) -> None:
    where = ("--workspace", str(tmp_path / "lab"), "--who", "kim", "--gauges", "2")
    first = run(str(job), *where, said="x it fell\nx 2 it fell\n\nq\n")
    assert "Say which, and why: x 1" in first.stdout
    name = re.search(r"--run (run-\w+)", first.stdout)
    assert name is not None
    kept = happened(ledger_of(tmp_path / "lab", print), name[1])
    assert [(event["kind"], event["installations"]) for event in kept[1:]] == [("fail", ["2"]), ("done", ["1"])]


def test_a_lot_that_was_condemned_meanwhile_is_recorded_with_a_reason(
    job: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What was glued with it must be found again: a record that is refused for good would hide it."""
    monkeypatch.setenv("TACKROOM_TODAY", "2027-03-01")
    lab = tmp_path / "lab"

    def answered(prompt: str) -> str:
        if prompt.startswith("Part, serial"):
            record(
                lab, [{"type": "condemned", "at": "2027-03-01", "who": "lee", "lot": "CA-07", "reason": "it gelled"}]
            )
        if prompt.startswith("It was used"):
            return "it was sound when it was used"
        if prompt.startswith("Lot of"):
            return "CA-07" if "ethyl" in prompt else str(re.findall(r"one of ([^,)]+)", prompt)[0])
        if prompt.startswith("Gauge"):
            return "2000" if "ohm" in prompt else "0.1"
        return "e it is enough" if prompt.startswith("waiting") else ""

    monkeypatch.setattr(terminal, "_asked", answered)
    terminal.run(job, gauges=1, name="R", chain=1, who="kim", workspace=lab)
    document = recorded(ledger_of(lab, print), "R")
    assert document is not None
    assert document["reason"] == "it was sound when it was used"
    assert "CA-07" in document["installations"][0]["lots"]


def test_a_lot_is_judged_by_the_time_of_its_use(job: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A lot may end between the bond and the proof: what it made is recorded all the same."""
    monkeypatch.setenv("TACKROOM_TODAY", "2027-06-02")
    it = asked(job, 1, tmp_path / "lab")
    steps = procedure(it.plan, it.chain)
    glue = max(n for n, step in enumerate(steps, start=1) if step.item == "ethyl-cyanoacrylate-low-viscosity")
    head = {"who": "kim", "installations": ["1"]}

    def told(late: str) -> list[dict[str, Any]]:
        told: list[dict[str, Any]] = [
            {"key": "l", "kind": "lot", "at": "2027-05-30T08:00", "who": "kim", "item": steps[glue - 1].item}
        ]
        told[0]["lot"] = "CA-07"
        for n, step in enumerate(steps, start=1):
            at = "2027-05-30T09:00" if n < glue else late if n == glue else "2027-06-02T09:00"
            told.append({"key": f"d{n}", "kind": "done", "at": at, "step": n, **head})
            if step.limit:
                value = 2000 if "ohm" in step.limit["quantity"] else 0.1
                told.append({"key": f"r{n}", "kind": "reading", "at": at, "name": step.limit["quantity"], **head})
                told[-1]["value"] = value
        return told

    ledger = ledger_of(tmp_path / "lab", print)
    facts = open_items(tmp_path / "lab", ledger).facts
    for run_name, late in (("late", "2027-06-01T09:00"), ("in time", "2027-05-31T09:00")):
        keep(ledger, it.name, run_name, told(late), "2027-06-02")
    with pytest.raises(Barred, match="CA-07: expired"):
        write_record(ledger, "late", it.name, steps, it.chain, it.estimate, facts, "2027-06-02")
    kept = write_record(ledger, "in time", it.name, steps, it.chain, it.estimate, facts, "2027-06-02")
    assert kept["installations"][0]["lots"] == ["CA-07"]


def test_a_job_without_a_name_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text(JOB.replace('name = "terminal"', ""), encoding="utf-8")
    refused = run(str(path), "--workspace", str(tmp_path), said="")
    assert refused.returncode == 2
    assert "job.name: is missing" in refused.stderr
