"""Words that people type: what each is read as, by what stands beside it, and when it is asked back."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from kb.base.errors import BadInput
from kb.engine.check import Question, answer, question
from kb.engine.plan import Engine
from kb.knowledge import Knowledge
from kb.materials.asked import readings
from kb.materials.cured import is_so_hot

ROWS: list[list[Any]] = tomllib.loads((Path(__file__).parents[2] / "data" / "asked.toml").read_text(encoding="utf-8"))[
    "rows"
]


@pytest.mark.parametrize(("typed", "kind", "means"), [row for row in ROWS if row[2] != "?"])
def test_a_class_a_chemical_an_aid_or_an_exposure_is_understood(
    typed: str, kind: str, means: str, knowledge: Knowledge
) -> None:
    wanted = set(means.split())
    found = [reading for reading in readings(typed, knowledge, "t") if reading.kind == kind]
    assert found, typed
    (reading,) = found
    named = {reading.name}, {e.id for e in reading.members}, {e.family for e in reading.members}
    assert any(names and names <= wanted for names in named), (typed, reading.name, named)


@pytest.mark.parametrize("typed", [row[0] for row in ROWS if row[2] == "?"])
def test_what_means_nothing_or_too_much_is_asked_back(typed: str, knowledge: Knowledge) -> None:
    with pytest.raises(BadInput) as fault:
        readings(typed, knowledge, "t")
    assert fault.value.mend


def test_enough_words_were_written_down() -> None:
    assert len(ROWS) >= 250
    assert len({row[0] for row in ROWS}) == len(ROWS)


def asked(knowledge: Knowledge, *words: str) -> Question:
    return question(words, knowledge, "t")


def kinds(knowledge: Knowledge, *words: str) -> list[str]:
    return [one.kind for one in asked(knowledge, *words).asked]


def test_a_word_of_two_kinds_is_read_by_what_stands_beside_it(knowledge: Knowledge) -> None:
    assert kinds(knowledge, "epoxy", "aluminium") == ["adhesive", "substrate"]
    assert kinds(knowledge, "epoxy", "acetone") == ["substrate", "degreaser"]
    assert kinds(knowledge, "silicone", "super glue") == ["coating", "adhesive"]
    assert kinds(knowledge, "alumina", "steel") == ["abrasive", "substrate"]
    assert kinds(knowledge, "alumina", "epoxy") == ["substrate", "adhesive"]
    assert kinds(knowledge, "nitrile", "acetone") == ["substrate", "degreaser"]
    assert kinds(knowledge, "water", "paperboard") == ["exposure", "substrate"]
    (epoxy, _) = asked(knowledge, "epoxy", "aluminium").asked
    assert {"coating", "substrate"} <= set(epoxy.others)


def test_an_exact_name_never_loses_to_a_namesake(knowledge: Knowledge) -> None:
    for entry in knowledge.entries.values():
        if entry.kind != "substance":
            found = readings(entry.id, knowledge, "t")
            assert [e.id for e in found[0].members] == [entry.id]
            assert all(reading.kind == "substance" for reading in found[1:])


def test_nothing_lies_on_what_things_are_only_exposed_to(knowledge: Knowledge) -> None:
    """Epoxy stands grease; over grease it holds on nothing."""
    assert kinds(knowledge, "epoxy", "in", "grease") == ["adhesive", "exposure"]
    for words in (("epoxy", "over", "grease"), ("oil", "under", "lacquer"), ("super glue", "on", "damp")):
        with pytest.raises(BadInput, match="nothing holds"):
            question(words, knowledge, "t")
    assert kinds(knowledge, "butyl tape", "over", "lacquer") == ["coating", "coating"]


def test_what_no_chain_puts_in_that_order_is_not_answered_in_another(knowledge: Knowledge) -> None:
    """Acetone before the glue is right; on the glue it takes it off."""
    assert kinds(knowledge, "super glue", "after", "acetone") == ["degreaser", "adhesive"]
    assert kinds(knowledge, "epoxy", "on", "polyimide gauge") == ["backing", "adhesive"]
    assert kinds(knowledge, "steel", "on", "epoxy") == ["adhesive", "substrate"]
    assert kinds(knowledge, "epoxy", "over", "silicone") == ["coating", "coating"]
    for words in (
        ("acetone", "on", "super glue"),
        ("super glue", "then", "acetone"),
        ("super glue", "over", "alkoxy silicone"),
        ("400 grit", "on", "polyurethane lacquer"),
    ):
        with pytest.raises(BadInput, match="no chain puts"):
            question(words, knowledge, "t")


def test_a_family_is_a_class_though_one_item_is_called_so(knowledge: Knowledge) -> None:
    (reading,) = readings("cyanoacrylate", knowledge, "t")
    assert len(reading.members) > 3


def test_a_slip_is_taken_for_the_class_and_not_for_one_item(knowledge: Knowledge) -> None:
    (reading,) = readings("cyanoacrilate", knowledge, "t")
    assert reading.is_class
    assert reading.name == "cyanoacrylate"


def test_nothing_is_offered_that_nobody_would_see_in_the_words(knowledge: Knowledge) -> None:
    with pytest.raises(BadInput, match=r"nothing that is known; .*tackroom call"):
        readings("xyzzy", knowledge, "t")
    with pytest.raises(BadInput) as fault:
        readings("tartaric acid", knowledge, "t")
    assert "acetic-acid" not in str(fault.value)


def test_the_name_within_what_is_not_known_is_told(knowledge: Knowledge) -> None:
    with pytest.raises(BadInput, match=r"'spray epoxy gun' as a whole is nothing that is known; within it epoxy is"):
        readings("spray epoxy gun", knowledge, "t")
    with pytest.raises(BadInput, match="'human skin' is judged by no rule; a living body is no part"):
        readings("human skin", knowledge, "t")


def test_a_cure_beside_an_adhesive_is_judged_alone(engine: Engine) -> None:
    """A cure that none of them has, or one beside a coat, is told: it is never passed over."""
    knowledge = engine.knowledge
    for typed in ("epoxy cured at 120 C", "120 C cure epoxy", "epoxy heat cured at 250 F", "epoxy, cured 2 h at 120 C"):
        (epoxy,) = readings(typed, knowledge, "t")
        assert epoxy.kind == "adhesive"
        assert {120.0} == {
            cure["temperature_c"]
            for entry in epoxy.members
            for cure in entry.facts["schedules"]
            if is_so_hot(cure, epoxy.cured_c or 0.0)
        }
    two_part = "epoxy-heat-cure-two-part"
    cold, hot = (
        answer(engine, question([f"{two_part} cured at {c} C", "polysulfone"], knowledge, "t")).checked.verdict
        for c in (80, 150)
    )
    assert (cold, hot) == ("compatible", "blocked")
    with pytest.raises(BadInput, match=r"no cure at 200 degC that is known; one of 80, 120, 150 degC"):
        readings(f"{two_part} cured at 200 C", knowledge, "t")
    with pytest.raises(BadInput, match="'acrylic lacquer' is no adhesive"):
        readings("acrylic lacquer cured at 60 C", knowledge, "t")
    said = readings("epoxy cured for 2 h at 120 C", knowledge, "t")[0].not_known
    assert said == ("for 2 h",)


def test_a_strength_beside_a_liquid_is_told_and_a_purity_changes_nothing(knowledge: Knowledge) -> None:
    for typed, means in (
        ("Iso propanol 99%", "isopropyl-alcohol"), ("IPA 99.9 %", "isopropyl-alcohol"),
        ("70% IPA", "isopropyl-alcohol-70"), ("n hexane", "hexane"), ("acetone p.a.", "acetone"),
        ("acetone, reagent grade", "acetone"), ("anhydrous ethanol", "ethanol"), ("heptane HPLC", "heptane"),
    ):  # fmt: skip
        found = next(r for r in readings(typed, knowledge, "t") if r.kind == "degreaser")
        assert ([e.id for e in found.members], found.not_known) == ([means], ()), typed
    for typed, means, told in (
        ("10 % sulfuric acid", "sulfuric-acid", "10 %"),
        ("hydrogen peroxide 3%", "hydrogen-peroxide", "3%"),
        ("conc. nitric acid", "nitric-acid", "conc."),
    ):
        (found,) = readings(typed, knowledge, "t")
        assert ([e.id for e in found.members], found.not_known) == ([means], (told,)), typed


def test_a_word_of_looks_leaves_open_which_kind_is_meant(knowledge: Knowledge) -> None:
    assert kinds(knowledge, "thick epoxy", "polypropylene") == ["adhesive", "substrate"]
    assert kinds(knowledge, "white spirit", "abs") == ["degreaser", "substrate"]


def test_words_between_the_things_say_the_order(knowledge: Knowledge) -> None:
    def order(*words: str) -> tuple[list[str], bool]:
        said = asked(knowledge, *words)
        return [one.name for one in said.asked], said.ordered

    under, over = "polyurethane-lacquer-air-drying", "butyl-mastic-tape"
    assert order(over, "over", under) == ([under, over], True)
    assert order(under, "then", over) == ([under, over], True)
    assert order(under, "under", over) == ([under, over], True)
    assert order(over, "on", under, "on", "aluminium-6061") == (["aluminium-6061", under, over], True)
    assert order(over, "with", under) == ([over, under], False)


def test_one_thing_alone_is_no_question(knowledge: Knowledge) -> None:
    for words in (["acetone"], ["acetone", "on"]):
        with pytest.raises(BadInput, match="name two or more"):
            question(words, knowledge, "t")


def test_a_part_may_be_described(knowledge: Knowledge) -> None:
    (part, _) = asked(knowledge, '{ like = "peek", porous = true }', "acetone").asked
    assert part.kind == "substrate"
    entry = part.things[0].entry
    assert entry is not None
    assert entry.facts["porous"] is True
    with pytest.raises(BadInput, match="can't be read"):
        readings("{ like = ", knowledge, "t")


@pytest.mark.parametrize(
    ("typed", "name", "at_c"),
    [
        ("oil at 120 C", "mineral-oil", 120.0),
        ("120 degC engine oil", "mineral-oil", 120.0),
        ("minus 40 C", "dry-air", -40.0),
        ("212 degF", "dry-air", 100.0),
        ("boiling water", "fresh-water-immersion", 100.0),
        ("oil", "mineral-oil", None),
    ],
)
def test_degrees_beside_an_exposure_say_how_hot_it_is(
    typed: str, name: str, at_c: float | None, knowledge: Knowledge
) -> None:
    (found,) = [one for one in asked(knowledge, typed, "PU lacquer").asked if one.kind == "exposure"]
    assert (found.name, found.things[0].at_c) == (name, pytest.approx(at_c) if at_c else None)


def test_degrees_beside_anything_else_are_no_heat(knowledge: Knowledge) -> None:
    with pytest.raises(BadInput):
        readings("wombat at 120 C", knowledge, "t")
    assert [r.kind for r in readings("S235", knowledge, "t")] == ["substrate"]


def test_heat_that_cannot_be_is_asked_back(knowledge: Knowledge) -> None:
    for typed, told in (("oil at -300 C", "absolute zero"), ("water at 40", "has no unit")):
        with pytest.raises(BadInput, match=told):
            question((typed, "wax"), knowledge, "t")


def test_a_surrounding_that_no_rule_judges_is_told_as_such(knowledge: Knowledge) -> None:
    with pytest.raises(BadInput, match="'pool water' is judged by no rule; write fresh-water-immersion"):
        question(["stainless steel", "pool water"], knowledge, "t")


def test_what_things_stand_in_is_no_film_under_their_bond(knowledge: Knowledge) -> None:
    (_, around) = asked(knowledge, "super glue", "in", "silicone oil").asked
    (_, under) = asked(knowledge, "super glue", "silicone oil").asked
    assert [one.things[0].around for one in (around, under)] == [True, False]
    assert around.things[0].entry == under.things[0].entry


def test_a_word_of_strength_before_a_chemical_is_told_as_not_judged(knowledge: Knowledge) -> None:
    (_, acid) = asked(knowledge, "epoxy-encapsulant-room-cure", "concentrated sulfuric acid").asked
    assert (acid.kind, acid.not_known) == ("exposure", ("concentrated",))
    assert [found.kind for found in readings("concentrated steel", knowledge, "t")] == ["substrate"]


@pytest.mark.parametrize(
    ("words", "beside", "kind"), [("runny epoxy", "brass", "adhesive"), ("wobbly brass", "epoxy", "substrate")]
)
def test_with_strange_words_a_name_means_no_less(words: str, beside: str, kind: str, knowledge: Knowledge) -> None:
    """A glue that is called runny beside a part is no part, as the glue alone is none."""
    found = question([words, beside], knowledge, "t").asked[0]
    plain = question([words.split()[1], beside], knowledge, "t").asked[0]
    assert (found.kind, found.things) == (plain.kind, plain.things)
    assert found.kind == kind
    assert found.not_known == (words.split()[0],)


def test_a_misspelt_class_means_all_that_it_may(knowledge: Knowledge) -> None:
    found = question(["cyanoacrilate", "brass"], knowledge, "t").asked[0]
    assert (found.kind, found.things) == question(["cyanoacrylate", "brass"], knowledge, "t").asked[0][1:4:2]
