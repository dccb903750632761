"""Whole jobs as data: each file in tests/scenarios/ holds a job and what must be true of its answer."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from kb.engine.plan import Engine
from kb.job import job_of
from kb.planning.ask import ask
from kb.report.plan_json import plan_json

FILES = sorted((Path(__file__).parent / "scenarios").glob("*.toml"))


def answer(task: dict[str, Any], engine: Engine, top: int = 10) -> dict[str, Any]:
    """The JSON answer to a job given as a table."""
    job = job_of(task, "scenario")
    asked = ask(engine, job, "scenario", top)
    return plan_json(asked.plan, asked.resolved, asked.trouble)


def listed(value: Any) -> list[Any]:
    return value if isinstance(value, list) else [value]


@pytest.mark.parametrize("path", FILES, ids=[p.stem for p in FILES])
def test_scenario(path: Path, engine: Engine) -> None:
    scenario = tomllib.loads(path.read_text())
    expect = scenario["expect"]
    document = answer(scenario["task"], engine)
    assert document["outcome"] == expect["outcome"]
    excluded = {row["item"] for row in document["excluded"]}
    assert all(row["findings"] for row in document["excluded"]), "an exclusion without a reason"
    in_family: dict[str, set[str]] = {family: set() for family in families_named(expect)}
    for entry in engine.knowledge.entries.values():
        if entry.family in in_family and entry.kind != "substrate":
            in_family[entry.family].add(entry.id)
    for family in expect.get("excluded", {}).get("families", []):
        assert in_family[family] <= excluded, f"{family} is not refused: {in_family[family] - excluded}"
    for family in expect.get("admitted", {}).get("families", []):
        assert in_family[family] - excluded, f"{family} is refused altogether"
    texts = [f["message"] + f["because"] for row in document["excluded"] for f in row["findings"]]
    for word in expect.get("refusals_say", []):
        assert any(word in text for text in texts), f"no refusal says '{word}'"
    for word in expect.get("refusals_never_say", []):
        assert not any(word in text for text in texts), f"a refusal says '{word}'"
    if document["chains"]:
        check_chains(document, expect, texts)
    else:
        everything = {e.id for e in engine.knowledge.entries.values() if e.kind in KINDS_OF_SLOTS}
        assert excluded == everything
        fields = [row["field"] for row in document["conflict"]]
        for field in expect.get("conflict_names", []):
            assert field in fields


KINDS_OF_SLOTS = (
    "degreaser", "abrasive", "conditioner", "neutraliser", "treatment", "backing", "adhesive",
    "solder", "flux", "wire", "coating",
)  # fmt: skip


def families_named(expect: dict[str, Any]) -> set[str]:
    return {f for name in ("excluded", "admitted") for f in expect.get(name, {}).get("families", [])}


def families_of(chain: dict[str, Any], slot: str) -> list[str]:
    """What stands in a slot, by family; `inner` and `outer` are the first and the last coat."""
    coats = listed(chain["families"]["coatings"])
    ends = {"inner": coats[:1], "outer": coats[-1:]}
    return ends[slot] if slot in ends else listed(chain["families"][slot])


def check_chains(document: dict[str, Any], expect: dict[str, Any], refusals: list[str]) -> None:
    first = document["chains"][0]
    spoken = {finding["rule"] for finding in first["findings"]}
    assert set(expect.get("first_says", [])) <= spoken
    assert not set(expect.get("first_silent", [])) & spoken
    for slot in expect.get("first_empty", []):
        assert first["items"][slot] in (None, []), f"{slot}: {first['items'][slot]}"
    for slot in expect.get("filled", []):
        assert first["items"][slot], f"{slot} is empty"
    if "cure_at_most_c" in expect:
        assert first["cure"]["temperature_c"] <= expect["cure_at_most_c"]
    for slot, families in expect.get("first", {}).items():
        assert set(families_of(first, slot)) <= set(families), f"{slot}: {first['families']}"
        assert families_of(first, slot), f"{slot} is empty"
    for slot, item in expect.get("first_items", {}).items():
        assert first["items"][slot] == item
    for slot, families in expect.get("first_not", {}).items():
        assert not set(families_of(first, slot)) & set(families), f"{slot}: {first['families']}"
    for chain in document["chains"]:
        for slot, families in expect.get("every", {}).items():
            assert set(families_of(chain, slot)) <= set(families), f"{slot}: {chain['families']}"
        for slot, families in expect.get("never", {}).items():
            assert not set(families_of(chain, slot)) & set(families), f"{slot}: {chain['families']}"
        assert len(chain["items"]["coatings"]) >= expect.get("least_coats", 0)
        assert chain["ready_after_min"] <= expect.get("ready_within_min", float("inf"))
        assert chain["cost"] == sum(row["points"] for row in chain["score"])
    said = " ".join(line for step in first["steps"] for line in (step["do"], *step["must"], *step["never"]))
    for words in expect.get("steps_say", []):
        assert words.lower() in said.lower(), f"no step says '{words}'"
    waits = [step["wait_s"] for step in first["steps"]]
    for wait in expect.get("waits_s", []):
        assert wait in waits
    cautions = [f["message"] + f["because"] for chain in document["chains"] for f in chain["findings"]]
    for word in expect.get("refusals_or_cautions_say", []):
        assert any(word in text for text in [*cautions, *refusals]), f"nothing says '{word}'"
