"""A material of which only the class is known: each fact at its cautious end, else ordinary or unknown."""

from __future__ import annotations

from typing import Any

import pytest

from kb.engine.plan import Engine
from kb.job import job_of
from kb.knowledge import Knowledge
from kb.materials import classes
from kb.materials.classes import cautious, class_entry, class_meant, members
from kb.materials.resolve import described, substrate

ENDS = {"lowest": ["max_c"], "true": ["sensitive"], "joined": ["dust"], "middle": ["cte"]}


@pytest.mark.parametrize(
    ("name", "values", "expected"),
    [
        ("max_c", (90, 80, 85), 80),
        ("max_c", (90, None), None),
        ("sensitive", (False, None, True), True),
        ("sensitive", (False, None), None),
        ("sensitive", (False, False), False),
        ("dust", (("b", "a"), ("b", "c")), ("a", "b", "c")),
        ("dust", ((), None), None),
        ("cte", (10, 30, 20), 20),
        ("cte", (10, None, 20), None),
        ("hardness", ("soft", "soft"), "soft"),
        ("hardness", ("soft", "hard"), None),
        ("hardness", (None, "hard"), None),
    ],
)
def test_the_cautious_end(name: str, values: tuple[Any, ...], expected: Any) -> None:
    known = [{name: value} if value is not None else {} for value in values]
    # What the first doesn't know isn't asked of the others: it is there with nothing in it.
    known[0] = {name: values[0]}
    assert cautious(known, ENDS).get(name) == expected


def test_a_class_is_of_its_members_alone(knowledge: Knowledge) -> None:
    known = {"family": "polyamide", "without": ["polyamide-6"]}
    everyone = {entry.id for entry in knowledge.by_kind["substrate"] if entry.family == "polyamide"}
    assert {entry.id for entry in members(known, knowledge)} == everyone - {"polyamide-6"}
    assert [e.id for e in members({"family": "polyamide", "only": ["polyamide-6"]}, knowledge)] == ["polyamide-6"]


def test_a_class_as_an_entry_says_that_the_grade_is_not_known(knowledge: Knowledge) -> None:
    found = class_meant("Nylon rod", knowledge)
    assert found is not None
    assert found == class_meant("nylon", knowledge)
    entry = class_entry("Nylon Rod", found, knowledge)
    assert (entry.id, entry.name, entry.kind) == ("nylon-rod", "nylon rod, grade not known", "substrate")
    assert entry.facts["max_temperature_c"] == min(e.facts["max_temperature_c"] for e in members(found, knowledge))
    assert (entry.facts["aliases"], entry.facts["house"]) == ((), False)


def test_words_that_name_no_class(knowledge: Knowledge) -> None:
    assert class_meant("rod", knowledge) is None
    assert class_meant("unobtainium", knowledge) is None


def test_a_stage_is_not_dropped_because_members_disagree(engine: Engine) -> None:
    """Sintered nylon is worked dry only and filled nylon wet only: nylon is planned as the ordinary one."""
    for typed in ("nylon", "steel", "stainless"):
        found = substrate(typed, engine.knowledge, "t")
        job = job_of({"part": {"substrate": typed, "thickness_mm": 5}, "service": {"temperature_c": [10, 60]}}, "t")
        plan = engine.plan(job, found.entry, 1)
        chain = plan.chains[0]
        assert chain.pick("abrasive_dry").entry or chain.pick("abrasive_wet").entry, typed
        assert "where they contradict as" in found.model


@pytest.mark.parametrize(
    "family", ["beryllium-alloy", "copper-alloy", "bearing-bronze", "titanium-alloy", "stainless-steel"]
)
def test_a_described_family_has_the_dust_of_its_members(family: str, knowledge: Knowledge) -> None:
    facts = described({"family": family}, knowledge, "t").entry.facts
    members = classes.of_family(family, knowledge)
    assert set(facts["dust_hazard"]) == {dust for m in members for dust in m.facts["dust_hazard"]}
    assert facts["dust_hazard"]


def test_no_polymer_is_warned_of_what_none_of_its_family_holds(engine: Engine) -> None:
    entry = described({"family": "polyamide"}, engine.knowledge, "t").entry
    assert not {"beryllium", "biological", "lead"} & set(entry.facts["dust_hazard"])
    job = job_of({"part": {"substrate": {"family": "polyamide"}}, "service": {"temperature_c": [10, 60]}}, "t")
    said = {f.rule.id for chain in engine.plan(job, entry, 1).chains for f in chain.findings}
    assert not {rule for rule in said if "beryllium" in rule or "biological" in rule}


def test_what_differs_and_nobody_can_guess_stays_open(knowledge: Knowledge) -> None:
    glass = substrate("glass", knowledge, "t").entry.facts
    assert "stored_energy" not in glass
    assert "abrading" not in glass


def test_the_ordinary_member_is_one_of_them(knowledge: Knowledge) -> None:
    rows = [row for row in classes.rows(knowledge) if "ordinary" in row]
    assert len(rows) > 20
    for row in rows:
        ids = {e.id for e in classes.members(row, knowledge)}
        assert row["ordinary"] in ids
        assert set(row.get("without", ())) <= {e.id for e in knowledge.by_kind["substrate"]} - ids


def test_other_kinds_have_their_families_for_classes(knowledge: Knowledge) -> None:
    row = classes.class_meant("ceramic cement", knowledge, "adhesive")
    assert row is not None
    assert {e.family for e in classes.members(row, knowledge)} == {"ceramic-cement"}
