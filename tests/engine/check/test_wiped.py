"""Liquids over finished coats and leads, and chemicals around them: judged as the surroundings that they are there."""

from __future__ import annotations

import pytest

from kb.engine.check import answer, question
from kb.engine.check.things import Thing
from kb.engine.check.wiped import LIQUIDS, exposed_to
from kb.engine.plan import Engine
from kb.knowledge import Knowledge
from kb.report.check import check_text


def verdict(engine: Engine, *words: str) -> str:
    return answer(engine, question(words, engine.knowledge, "t")).checked.verdict


def kinds(engine: Engine, *words: str) -> list[str]:
    return [one.kind for one in question(words, engine.knowledge, "t").asked]


@pytest.mark.parametrize("words", [("acetone", "over", "acrylic-lacquer-fast"), ("acrylic-lacquer-fast", "acetone")])
def test_a_solvent_over_a_coat_is_judged_in_either_wording(words: tuple[str, ...], engine: Engine) -> None:
    assert verdict(engine, *words) == "blocked"
    assert "exposure" in kinds(engine, *words)


def test_of_one_coat_one_solvent_is_stood_and_another_not(engine: Engine) -> None:
    assert verdict(engine, "acetone", "over", "silicone-neutral-cure-alkoxy") == "compatible"
    assert verdict(engine, "toluene", "over", "silicone-neutral-cure-alkoxy") == "blocked"
    (liquid, _) = reversed(question(("IPA", "over", "silicone-addition-cure-gel"), engine.knowledge, "t").asked)
    assert [thing.of for thing in liquid.things] == [("alcohol",)]
    assert liquid.wiped == "isopropyl-alcohol"


def test_what_a_liquid_is_used_on_before_any_coat_is_no_wipe(engine: Engine) -> None:
    assert "degreaser" in kinds(engine, "acetone", "aluminium", "PU lacquer")
    assert "degreaser" in kinds(engine, "acetone", "then", "PU lacquer")


def test_every_liquid_has_something_that_it_does_to_a_coat(knowledge: Knowledge) -> None:
    for kind in LIQUIDS:
        for entry in knowledge.by_kind[kind]:
            assert exposed_to(Thing(entry.id, entry), knowledge), entry.id


def test_a_class_of_solvents_is_told_apart_by_what_each_is(engine: Engine) -> None:
    found = answer(engine, question(("solvent", "over", "silicone-neutral-cure-alkoxy"), engine.knowledge, "t"))
    assert {member.checked.verdict for member in found.members} >= {"compatible", "blocked"}
    assert found.checked.verdict == "blocked"


def test_a_chemical_around_what_has_cured_is_a_surrounding_and_beside_another_it_is_mixed(engine: Engine) -> None:
    assert kinds(engine, "bleach", "epoxy-room-cure-two-part") == ["exposure", "adhesive"]
    assert kinds(engine, "bleach", "vinegar") == ["substance", "substance"]
    assert kinds(engine, "bleach", "vinegar", "epoxy-room-cure-two-part").count("exposure") == 0
    assert verdict(engine, "hydrogen", "epoxy-room-cure-two-part") == "compatible", "no gas is mixed with a glue"


def test_a_word_of_a_state_makes_a_liquid_a_surrounding(engine: Engine) -> None:
    (vapour, _) = question(("acetone vapour", "PTFE wire"), engine.knowledge, "t").asked
    assert [(thing.id, thing.of) for thing in vapour.things] == [("solvent-splash", ("ketone",))]


def test_what_is_graded_for_nothing_alike_is_said_to_be_so(engine: Engine) -> None:
    found = answer(engine, question(["ozone", "epoxy-encapsulant-room-cure"], engine.knowledge, "t"))
    assert "it carries no grade for this" in " ".join(check_text(found).split())
