"""Signing off a record: by another than those who did the work, with a reason where it is refused."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

from kb.base.errors import BadInput
from kb.cli.program import program
from kb.report.trace import trace_json, trace_text
from kb.stock.ledger import Ledger
from kb.stock.lots import Refused
from kb.stock.workspace import ledger_of
from kb.work.checking import verify
from kb.work.installations import installations
from kb.work.recording import record as keep
from kb.work.signing import rehearse, sign, standings
from kb.work.trace import Sought, trace
from tests.stock.factory import TODAY, in_memory, received, record
from tests.stock.stores.test_stores import RECORD

LATER = ("2027-03-06", "2027-03-06")


@pytest.fixture
def ledger() -> Ledger:
    found = in_memory(received("A"))
    keep(found, RECORD, TODAY)
    return found


def test_somebody_else_signs(ledger: Ledger) -> None:
    assert trace(ledger, Sought("bracket")).records[0].verdict == "unsigned"
    before = installations(ledger.documents("work"))
    would = rehearse(ledger, 1, "refused", "lee", *LATER, "a bubble")
    assert "id" not in would
    sign(ledger, 1, "refused", "lee", *LATER, "a bubble")
    sign(ledger, 1, "approved", "sam", *LATER)
    found = trace(ledger, Sought("bracket"))
    [one] = found.records
    assert (one.number, one.verdict, [s["who"] for s in one.signatures]) == (1, "approved", ["lee", "sam"])
    assert trace_json(found)["records"][0]["signatures"][0]["reason"] == "a bubble"
    assert "Record 1 of 'bracket' by kim: approved by sam on 2027-03-06\n" in trace_text(found, {})
    assert installations(ledger.documents("work")) == before, "what was made is what it was"
    assert verify(ledger).problems == ()


def test_whoever_did_the_work_does_not(ledger: Ledger) -> None:
    with pytest.raises(Refused, match="kim did the work; somebody else must look at it and sign"):
        sign(ledger, 1, "approved", "kim", *LATER)
    times = [{"step": 1, "stage": "mount", "installations": ["2"], "at": "2027-03-05", "who": "lee"}]
    again = {**RECORD, "installations": [{"installation": "2", "outcome": "pass", "lots": ["A"]}]}
    keep(ledger, {**again, "run": "r", "times": times}, TODAY)
    assert standings(ledger.documents("work"))[2].hands == {"kim", "lee"}
    with pytest.raises(Refused, match="lee did the work"):
        sign(ledger, 2, "approved", "lee", *LATER)


def test_what_can_not_be_signed_is_said(ledger: Ledger) -> None:
    with pytest.raises(BadInput, match="record 9: is no record of installations"):
        sign(ledger, 9, "approved", "lee", *LATER)
    with pytest.raises(BadInput, match="reason: is missing; say what is wrong with it"):
        sign(ledger, 1, "refused", "lee", *LATER)
    with pytest.raises(BadInput, match="verdict"):
        sign(ledger, 1, "so so", "lee", *LATER)
    assert trace(ledger, Sought("bracket")).records[0].signatures == ()


def test_the_command_signs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TACKROOM_WORKSPACE", str(tmp_path))
    monkeypatch.setenv("TACKROOM_TODAY", "2027-06-01")
    ledger = ledger_of(tmp_path)
    record(ledger, [received("A")])
    keep(ledger, RECORD, TODAY)
    run = CliRunner().invoke(program(["sign"]), ["sign", "1", "--who", "lee"], catch_exceptions=False)
    assert run.stdout == "Record 1 of 'bracket' approved by lee.\n"
