"""A run keeps each thing once, in whatever order and however often it is sent, and its record is what was done."""

from __future__ import annotations

from typing import Any

import pytest

from kb.base.errors import BadInput
from kb.engine.plan import Engine
from kb.job import read_job
from kb.planning.ask import ask
from kb.planning.demo import jobs
from kb.planning.procedure import procedure
from kb.stock.ledger import Ledger
from kb.stock.stores.memory import MemoryStore
from kb.work.run import fold, happened, keep, record_said

DAY = "2027-03-01"


def event(key: str, kind: str, **more: Any) -> dict[str, Any]:
    return {"key": key, "kind": kind, "at": f"{DAY}T08:30", "who": "kim", **more}


def test_what_is_sent_again_is_kept_once() -> None:
    ledger = Ledger(MemoryStore())
    first, second = event("a", "note", note="one"), event("b", "note", note="two")
    assert keep(ledger, "J", "R", [first], DAY) == ["a"]
    assert keep(ledger, "J", "R", [first, second], DAY) == ["a", "b"]
    assert keep(ledger, "J", "R", [second, first], DAY) == ["a", "b"]
    assert keep(ledger, "J", "R", [], DAY) == ["a", "b"]
    assert [one["note"] for one in happened(ledger, "R")] == ["one", "two"]
    assert happened(ledger, "another") == []
    assert len(ledger.documents("work")) == 2


def test_what_can_not_be_kept_is_named_and_nothing_is_kept() -> None:
    ledger = Ledger(MemoryStore())
    with pytest.raises(BadInput, match="kind"):
        keep(ledger, "J", "R", [event("a", "note"), event("b", "dance")], DAY)
    assert ledger.documents("work") == []


def test_the_record_is_what_was_done(engine: Engine) -> None:
    asked = ask(engine, read_job(jobs()["bracket"]), "bracket")
    chain = asked.chain()
    steps = procedure(asked.plan, chain)
    glue = next(n for n, step in enumerate(steps, start=1) if step.item == chain.pick("adhesive").id)
    limited = {step.limit["quantity"]: n for n, step in enumerate(steps, start=1) if step.limit}
    said = [
        event("0", "lot", item=chain.pick("adhesive").id, lot="EP-1"),
        event("1", "done", step=glue, installations=["4"]),
        event("2", "lot", item=chain.pick("adhesive").id, lot="EP-2"),
        event("3", "done", step=glue, installations=["5"], who="lee"),
        event("4", "done", step=glue + 1, installations=["5"]),
        event("5", "undo", note="4"),
        event("6", "room", name="air_temperature_c", value=21.5),
        event("7", "end", note="P-9"),
        event("8", "part", installations=["5"], note="P-10"),
    ]
    for name, n in limited.items():
        said.append(event(f"r{n}", "reading", installations=["4"], name=name, value=5000 if "ohm" in name else 0.1))
    said.append(event("x", "fail", installations=["5"], note="a void"))
    found = record_said(said, steps, "J", chain)
    four, five = found["installations"]
    assert (four["installation"], four["outcome"], four["lots"]) == ("4", "pass", ["EP-1"])
    assert (five["installation"], five["outcome"], five["why"], five["lots"]) == ("5", "fail", "a void", ["EP-2"])
    assert found["bench"] == {"air_temperature_c": 21.5}
    assert [(one["step"], one["who"]) for one in found["times"]] == [(glue, "kim"), (glue, "lee")], "undone is not told"
    assert "kim, then lee" in four["note"]
    assert (four["part"], five["part"]) == ("P-9", "P-10")


def test_a_pass_is_not_guessed(engine: Engine) -> None:
    asked = ask(engine, read_job(jobs()["bracket"]), "bracket")
    chain = asked.chain()
    steps = procedure(asked.plan, chain)
    with pytest.raises(BadInput, match="nothing was done"):
        record_said([event("a", "note", note="idle")], steps, "J", chain)
    with pytest.raises(BadInput, match="nothing says how it came out"):
        record_said([event("a", "done", step=1, installations=["1"])], steps, "J", chain)
    with pytest.raises(BadInput, match="none of the"):
        fold([event("a", "done", step=999, installations=["1"])], steps)
