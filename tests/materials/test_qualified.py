"""A name with strange words beside it: taken, and the words told; nothing is taken where the words say more."""

from __future__ import annotations

import pytest

from kb.base.errors import BadInput
from kb.job import job_of
from kb.knowledge import Knowledge
from kb.materials.qualified import qualified
from kb.materials.resolve import of_part, offered, substrate


@pytest.mark.parametrize(
    ("typed", "family", "not_known"),
    [
        ("steel part from the workshop", "carbon-steel", ("workshop",)),
        ("stainles steel spoon", "stainless-steel", ("spoon",)),
        ("nylon 6,12", "polyamide", ("612",)),
        ("titanium grade 99", "titanium-alloy", ("99",)),
        ("1.4999 bar", "stainless-steel", ("1.4999",)),
        ("EN AW-6999 sheet", "aluminium-alloy", ("en aw-6999",)),
        ("CuSn99 strip", "copper-alloy", ("cusn99",)),
    ],
)
def test_a_class_with_strange_words_is_the_class(
    typed: str, family: str, not_known: tuple[str, ...], knowledge: Knowledge
) -> None:
    found = substrate(typed, knowledge, "t")
    assert found.entry.family == family
    assert found.members
    assert found.not_known == not_known


def test_a_material_with_a_strange_word_is_the_material(knowledge: Knowledge) -> None:
    found = substrate("granite from Xanadu", knowledge, "t")
    assert (found.entry.id, found.members, found.not_known) == ("granite", (), ("xanadu",))


@pytest.mark.parametrize(
    "typed",
    [
        "glass filled nylon 12 rod",  # what is known beside the name says more of the material
        "painted brass spoon",  # so does a finish
        "granite 9999",  # another grade of a single material may be another material
        "qwxzv asdf nylon hjkl",  # most of it is strange
        "2024 invoice",  # a number alone is no name
        "lead telluride",  # a compound of a metal is not the metal
        "bendy glass",  # what is called a glass, a leather or a silver may be none
    ],
)
def test_what_says_more_is_asked_about(typed: str, knowledge: Knowledge) -> None:
    assert qualified(typed, knowledge) is None


def test_a_strange_word_that_a_hyphen_joins_to_a_name_makes_another_name(knowledge: Knowledge) -> None:
    with pytest.raises(BadInput, match="'Ni-resist' is no substrate that is known"):
        substrate("Ni-resist", knowledge, "t")


@pytest.mark.parametrize(
    ("typed", "item", "dirt"),
    [
        ("greasy 4140", "low-alloy-steel-4140", ("greasy",)),
        ("tarnished silver", "silver", ("tarnished",)),
        ("Oily, dirty 6061", "aluminium-6061", ("oily", "dirty")),
    ],
)
def test_dirt_is_no_part_of_a_name_and_is_told(
    typed: str, item: str, dirt: tuple[str, ...], knowledge: Knowledge
) -> None:
    found = substrate(typed, knowledge, "t")
    assert (found.entry.id, found.not_known) == (item, dirt)


def test_where_a_name_stands_within_what_is_not_known_it_is_told(knowledge: Knowledge) -> None:
    with pytest.raises(BadInput, match="if it is polystyrene, write that alone"):
        substrate("polystyrene cup", knowledge, "t")


def test_a_known_grade_beside_its_class_is_the_grade(knowledge: Knowledge) -> None:
    assert substrate("structural steel S235", knowledge, "t").entry.id == "carbon-steel"


def test_a_family_of_the_vocabulary_is_its_class(knowledge: Knowledge) -> None:
    for family in ("stainless-steel", "glass-composite", "plated-surface"):
        found = substrate(family, knowledge, "t")
        assert found.members, family
        assert {knowledge.entry(item).family for item in found.members} == {family}


def test_what_is_taken_without_a_match_is_offered(knowledge: Knowledge) -> None:
    matches, found = offered("aluminium 6999", knowledge)
    assert found is not None
    assert matches[0].entry.id == "aluminium-6082", "the ordinary member first"
    assert {m.entry.id for m in matches} <= set(found.members)


@pytest.mark.parametrize(("populated", "item"), [(True, "solder-masked-board"), (False, "solder-masked-board-bare")])
def test_what_the_job_says_beside_settles_what_the_words_leave_open(
    populated: bool, item: str, knowledge: Knowledge
) -> None:
    part = {"substrate": "solder mask on FR-4"}
    service = {"temperature_c": [10, 60]}
    job = job_of({"part": {**part, "populated": populated}, "service": service}, "t")
    assert of_part(job.part, knowledge, "t").entry.id == item
    with pytest.raises(BadInput, match="may mean several things"):
        of_part(job_of({"part": part, "service": service}, "t").part, knowledge, "t")


def test_a_compound_of_an_element_is_not_told_to_be_the_element(knowledge: Knowledge) -> None:
    with pytest.raises(BadInput, match=r"'lead telluride' is no substrate that is known; see") as told:
        substrate("lead telluride", knowledge, "t")
    assert "lead-sheet" not in str(told.value)
