"""A chemical of which nobody said how strong it is: the answer says to what strength a grade holds."""

from __future__ import annotations

from kb.engine.check import answer, question
from kb.engine.check.strength import held_to, strength
from kb.engine.check.things import Thing
from kb.engine.plan import Engine
from kb.knowledge import Knowledge


def test_the_strength_to_which_a_grade_holds_is_said(engine: Engine) -> None:
    found = answer(engine, question(["polysulfide-two-part-paste", "vinegar"], engine.knowledge, "t")).checked
    (said,) = [f for f in found.findings if f.rule.id == "strength-of-the-chemical"]
    assert "of at most 5 %: of how many % the acetic acid is was not said" in said.rule.message
    assert found.verdict == "caution"


def test_a_grade_without_a_limit_says_so(knowledge: Knowledge) -> None:
    bare = Thing("chemical-immersion", of=("acid",), undiluted="acetic acid")
    graded = [e for e in knowledge.by_kind["wire"] if "resists.chemical-immersion" in e.facts]
    free = next(e for e in graded if "resists.chemical-immersion.concentration_pct" not in e.facts)
    (said,) = strength([bare, Thing(free.id, free)])
    assert "without a limit of its strength" in said.rule.message


def test_a_bath_and_a_solvent_are_no_chemical_of_unknown_strength(knowledge: Knowledge) -> None:
    coat = Thing("c", knowledge.entry("polysulfide-two-part-paste"))
    assert list(strength([Thing("chemical-immersion", of=("acid",)), coat])) == []
    assert list(strength([Thing("solvent-splash", of=("ketone",), undiluted="acetone"), coat])) == []


def test_how_far_a_grade_holds_is_told_without_deciding(engine: Engine) -> None:
    found = answer(engine, question(["epoxy-heat-cure-two-part", "fresh water"], engine.knowledge, "t")).checked
    assert found.verdict == "compatible"
    (said,) = [f.rule.message for f in found.notes if f.rule.id.startswith("grade-holds-for")]
    assert "fresh water immersion up to 80 degC; fresh water immersion up to 100 degC for three days" in said


def test_of_a_grade_for_days_the_days_are_told(engine: Engine) -> None:
    found = answer(engine, question(["super glue", "sea water"], engine.knowledge, "t")).checked
    assert [f.rule.id for f in found.notes if "for 3 days, and for no more" in f.rule.message] == [
        "grade-holds-for-days-3"
    ]


def test_no_limit_is_told_of_a_heat_that_was_said(knowledge: Knowledge) -> None:
    glue = Thing("epoxy-heat-cure-two-part", knowledge.entry("epoxy-heat-cure-two-part"))
    assert list(held_to([Thing("fresh-water-immersion", at_c=60.0), glue])) == []
    assert list(held_to([Thing("dry-air"), glue])) == []
