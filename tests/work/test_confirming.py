"""What a lab confirms counts in the place of the class's value, for as long as what it was read in holds."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from kb.base.errors import BadInput
from kb.cli.program import program
from kb.knowledge import Knowledge
from kb.stock.ledger import Ledger
from kb.stock.stores.memory import MemoryStore
from kb.work.confirming import confirmations, kept, open_facts, record, stated, told

LACQUER = "acrylic-lacquer-alcohol-borne"
FACT = f"{LACQUER}.full_cure_min"
TODAY = "2027-03-01"


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Any:
    monkeypatch.setenv("TACKROOM_WORKSPACE", str(tmp_path))
    monkeypatch.setenv("TACKROOM_TODAY", TODAY)

    def call(*words: str, status: int = 0) -> Any:
        done = CliRunner().invoke(program(words), [str(word) for word in words])
        said = str(done.exception) if done.exception and done.exit_code == 1 else done.output
        assert done.exit_code == status or (status == 2 and done.exception), said
        return json.loads(done.stdout) if "--json" in words and not status else said

    return call


def _state(run: Any, setting: str, *more: str, status: int = 0) -> Any:
    source = ("--sheet", "lacquer sheet", "--issued", "2026-03-01")
    return run("confirm", "state", setting, *source, "--who", "kim", *more, status=status)


def test_the_story_of_a_bottle(run: Any, tmp_path: Path) -> None:
    """A refusal becomes a chain by what its sheet says, once two have seen it, until the sheet has run out."""
    job = tmp_path / "job.toml"
    job.write_text(
        '[part]\nsubstrate = "aluminium-6061"\n[service]\ntemperature_c = [10, 60]\n'
        f'[choose]\ncoatings = ["{LACQUER}"]\n[limits]\nready_within_h = 6\n'
    )
    run("plan", job, status=3)
    run("confirm", "by-two", "yes")
    _state(run, f"{FACT}=2 h", "--until", "2027-06-30")
    assert "waits for a second person" in run("plan", job, status=3)
    run("confirm", "seen", "1", "--who", "kim", status=2)
    run("confirm", "seen", "1", "--who", "lee")
    notes = run("plan", job, "--json")["notes"]
    assert f"{FACT} = 120: your data sheet of 2026-03-01, seen by kim and lee." in notes
    with pytest.MonkeyPatch.context() as later:
        later.setenv("TACKROOM_TODAY", "2027-07-01")
        assert "does not count: it held until 2027-06-30" in " ".join(run("plan", job, status=3).split())


def test_an_event_is_taken_back_and_that_too(run: Any) -> None:
    _state(run, f"{FACT}=2 h")
    assert len(run("confirm", "list", "--json")["confirmed"]) == 1
    run("confirm", "undo", "1", "--reason", "another bottle", "--who", "lee")
    assert run("confirm", "list", "--json")["confirmed"] == []
    run("confirm", "undo", "2", "--reason", "it was this one", "--who", "lee")
    (row,) = run("confirm", "list", "--json")["confirmed"]
    assert (row["fact"], row["value"], row["counts"]) == (FACT, 120.0, True)
    run("confirm", "undo", "9", "--reason", "x", status=2)


def test_a_newer_sheet_ends_it_until_it_is_stated_anew(run: Any) -> None:
    _state(run, f"{FACT}=2 h")
    run("confirm", "reissued", LACQUER, "--issued", "2027-02-01", "--who", "kim")
    (row,) = run("confirm", "list", "--json")["confirmed"]
    assert row["why_not"] == "a newer sheet, of 2027-02-01, is there"
    run("confirm", "state", f"{FACT}=3 h", "--sheet", "new", "--issued", "2027-02-01", "--who", "kim")
    (row,) = run("confirm", "list", "--json")["confirmed"]
    assert (row["value"], row["counts"]) == (180.0, True)


def test_another_lot_in_stock_ends_it() -> None:
    ledger = Ledger(MemoryStore())
    head = {"at": TODAY, "who": "kim", "item": LACQUER, "quantity": "50", "unit": "mL", "type": "received"}
    said = {"type": "stated", "fact": FACT, "item": LACQUER, "value": 120.0, "kind": "certificate", "issued": TODAY}
    record(ledger, {**said, "lot": "AL-1", "at": TODAY, "who": "kim"}, TODAY)
    ledger.record([{**head, "lot": "AL-1"}], TODAY)
    assert told(kept(ledger), TODAY, second=False)
    ledger.record([{**head, "lot": "AL-2"}], TODAY)
    (one,) = kept(ledger)
    assert one.standing(TODAY, second=False) == "it is of lot AL-1, and AL-2 is in stock"
    assert told([one], TODAY, second=False) == {}


def test_the_shelf_goes_by_it_too(run: Any) -> None:
    item = "isopropyl-alcohol"
    run("stock", "receive", item, "IPA-1", "100", "mL", "--at", "2027-01-10", "--made", "2027-01-05", "--who", "kim")
    (before,) = run("stock", "list", "--json")["lots"]
    run(
        "confirm",
        "state",
        f"{item}.shelf_life_months=3",
        "--sheet",
        "x",
        "--issued",
        "2026-03-01",
        "--who",
        "kim",
        "--beyond",
    )
    (after,) = run("stock", "list", "--json")["lots"]
    assert after["usable_until"] == "2027-04-05" < before["usable_until"]


def test_a_value_outside_of_its_class_is_questioned(knowledge: Knowledge, run: Any) -> None:
    _state(run, "ethyl-cyanoacrylate-low-viscosity.schedules.thumb.service_max_c=250", status=2)
    _state(run, f"{LACQUER}.resists.steam=good", status=2)
    with pytest.raises(BadInput, match=r"lies outside of its class \(60 to 80\); read the source again; --beyond"):
        stated(knowledge, "ethyl-cyanoacrylate-low-viscosity.schedules.thumb.service_max_c=250")
    assert stated(knowledge, f"{LACQUER}.max_c=95")["value"] == 95.0
    _state(run, "ethyl-cyanoacrylate-low-viscosity.schedules.thumb.service_max_c=250", "--beyond")


def test_a_source_is_asked_for(run: Any) -> None:
    run("confirm", "state", f"{FACT}=2 h", "--who", "kim", status=2)
    run("confirm", "state", f"{FACT}=2 h", "--sheet", "x", "--who", "kim", status=2)
    run("confirm", "state", f"{FACT}=2 h", "--sheet", "x", "--test", "118", "--who", "kim", status=2)
    run("confirm", "state", f"{FACT}=2 h", "--test", "118", "--test", "121", "--who", "kim")
    (row,) = run("confirm", "list", "--json")["confirmed"]
    assert row["source"] == f"your own test of {TODAY}, 2 readings"


def test_what_most_jobs_hang_on_comes_first(run: Any, tmp_path: Path) -> None:
    for number, high in enumerate((60, 60, 90)):
        text = f'[part]\nsubstrate = "aluminium-6061"\n[service]\ntemperature_c = [10, {high}]\n'
        (tmp_path / f"{number}.toml").write_text(text)
    document = run("confirm", "list", *(str(tmp_path / f"{n}.toml") for n in range(3)), "--json")
    assert document["schema"] == "tackroom.confirm/1"
    counts = [row["jobs"] for row in document["open"]]
    assert counts == sorted(counts, reverse=True)
    assert counts[0] >= 2
    assert set(document["open"][0]) >= {"fact", "value", "basis", "jobs"}


def test_nothing_is_open_where_nothing_was_asked() -> None:
    ledger = Ledger(MemoryStore())
    assert open_facts([], ledger.shelf(), []) == []
    assert confirmations([]) == []
