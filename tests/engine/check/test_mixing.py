"""Chemicals beside chemicals: what makes gas, heat, fire or poison is stopped; what a chain does is left to rules."""

from __future__ import annotations

import tomllib

import pytest

from kb.engine.check import Thing, answer, question
from kb.engine.check.mixing import groups_of, mixing
from kb.engine.plan import Engine
from kb.knowledge import Entry, Knowledge
from kb.report.check import check_text
from tests.mirror import ROOT


def substance(name: str, *groups: str) -> Thing:
    """A pure chemical of these groups."""
    facts = {"id": name, "name": name, "reactive_groups": groups}
    return Thing(name, Entry(name, "substance", "inorganic", name, facts))


def test_bleach_and_ammonia_are_stopped(engine: Engine) -> None:
    found = answer(engine, question(["bleach", "ammonia"], engine.knowledge, "t"))
    assert found.checked.verdict == "blocked"
    text = " ".join(check_text(found).split())
    assert "poisonous gas" in text
    assert "instead: stop" in text
    assert "safety data sheets decide" in text


@pytest.mark.parametrize(
    ("one", "other", "verdict"),
    [
        ("oxidising-agents-strong", "acids-organic", "block"),
        ("oxidising-agents-strong", "ketones", "block"),
        ("halogenated-organics", "metals-alkali-and-alkaline-earth-elemental", "block"),
        ("halogenated-organics", "caustics", "block"),
        ("peroxides-and-hydroperoxides-organic", "ketones", "block"),
        ("acids-organic", "caustics", "caution"),
        ("alcohols-and-glycols", "ketones", None),
    ],
)
def test_groups_decide_and_no_list_of_pairs(one: str, other: str, verdict: str | None, knowledge: Knowledge) -> None:
    found = list(mixing([substance("a", one), substance("b", other)], knowledge))
    assert [finding.rule.verdict for finding in found] == ([verdict] if verdict else [])
    assert all(finding.rule.basis == "handbook" and finding.rule.sources for finding in found)


def test_the_worst_that_any_two_of_their_groups_do_is_said(knowledge: Knowledge) -> None:
    things = [substance("a", "caustics", "oxidising-agents-strong"), substance("b", "acids-organic")]
    (finding,) = mixing(things, knowledge)
    assert "poisonous gas" in finding.rule.message
    assert finding.about == ("a", "b")


def test_what_a_chain_uses_one_after_another_is_left_to_its_rules(knowledge: Knowledge) -> None:
    """Acid and then a base is the ordinary way to condition a surface."""
    things = [Thing(name, knowledge.entry(name)) for name in ("mild-phosphoric-conditioner", "dilute-ammonia")]
    grouped = [
        Thing(t.id, t.entry._replace(facts={**t.entry.facts, "reactive_groups": (group,)}))
        for t, group in zip(things, ("acids-mineral-non-oxidising", "caustics"), strict=True)
        if t.entry
    ]
    assert list(mixing(grouped, knowledge)) == []


def test_a_cotton_swab_burns_and_a_polyester_one_does_not(knowledge: Knowledge) -> None:
    table = knowledge.tables["reactivity"]
    assert "combustible-and-flammable-materials" in groups_of(knowledge.entry("cotton-swab"), table)
    assert groups_of(knowledge.entry("polyester-swab"), table) == []
    glue = Thing("g", knowledge.entry("ethyl-cyanoacrylate-low-viscosity"))
    (finding,) = mixing([glue, Thing("s", knowledge.entry("cotton-swab"))], knowledge)
    assert finding.rule.verdict == "block"


def test_a_cell_that_was_not_read_twice_cautions_only(knowledge: Knowledge) -> None:
    data = tomllib.loads((ROOT / "generic_catalog" / "reactivity.toml").read_text(encoding="utf-8"))
    unsure = [cell for cell in data["cells"] if not cell.get("sure", True)]
    assert unsure
    cells = knowledge.tables["reactivity"]["cells"]
    assert all(cells["|".join(sorted(cell["groups"]))]["verdict"] == "caution" for cell in unsure)
    assert len(data["cells"]) > 150
