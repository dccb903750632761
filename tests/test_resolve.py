"""The part's material: words, a class, or a description; and a question back where that isn't clear."""

from __future__ import annotations

import random

import pytest

from kb.errors import BadInput
from kb.knowledge import Knowledge
from kb.resolve import substrate


def test_how_it_was_found_is_said(knowledge: Knowledge) -> None:
    assert substrate("aluminium-6061", knowledge, "t").how == "id"
    assert substrate("FR4", knowledge, "t").how == "alias"
    misspelt = substrate("alumnium 6061", knowledge, "t")
    assert (misspelt.entry.id, misspelt.how) == ("aluminium-6061", "fuzzy")


def test_several_are_offered_where_it_is_not_clear(knowledge: Knowledge) -> None:
    with pytest.raises(BadInput, match=r"may mean several things; write one of: .*zirconia-"):
        substrate("zirconia plate", knowledge, "t")


def test_nothing_near_is_told(knowledge: Knowledge) -> None:
    with pytest.raises(BadInput, match="'qwxzv' is no substrate that is known"):
        substrate("qwxzv", knowledge, "t")


def test_a_class_has_the_cautious_end_of_its_members(knowledge: Knowledge) -> None:
    brass = substrate("brass", knowledge, "t")
    members = [knowledge.entry(i).facts for i in ("brass-c26000", "brass-c36000")]
    facts = brass.entry.facts
    assert brass.how == "described"
    assert facts["max_temperature_c"] == min(m["max_temperature_c"] for m in members)
    assert facts["ammonia_sensitive"] is True
    assert set(facts["dust_hazard"]) == {h for m in members for h in m["dust_hazard"]}
    assert "grade not known" in brass.entry.name


def test_every_class_of_words_resolves(knowledge: Knowledge) -> None:
    for known_class in knowledge.tables["words"]["classes"]:
        for word in known_class["words"]:
            assert substrate(word, knowledge, "t").entry.family == known_class["family"], word


def test_like_takes_over_what_is_not_given(knowledge: Knowledge) -> None:
    found = substrate({"like": "peek", "max_temperature_c": 90}, knowledge, "t")
    peek = knowledge.entry("peek").facts
    assert found.how == "described"
    assert found.entry.facts["max_temperature_c"] == 90
    assert found.entry.facts["modulus_gpa"] == peek["modulus_gpa"]


def test_a_family_alone_leaves_unknown_what_its_members_differ_in(knowledge: Knowledge) -> None:
    found = substrate({"family": "polyamide"}, knowledge, "t")
    assert found.entry.facts["organic"] is True
    assert "modulus_gpa" in found.missing


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"max_temperature_c": 90}, "needs `like` or `family`"),
        ({"family": "polyamid"}, "did you mean 'polyamide'"),
        ({"like": "peek", "max_temp_c": 9}, "did you mean 'max_temperature_c'"),
        ({"like": "peek", "porous": "very"}, "porous: should be true or false"),
        ({"like": "qwxzv"}, "'qwxzv' is no substrate"),
    ],
)
def test_a_bad_description_is_one_line(given: dict[str, object], said: str, knowledge: Knowledge) -> None:
    with pytest.raises(BadInput) as fault:
        substrate(given, knowledge, "t")
    assert said in str(fault.value)


def test_described_by_its_own_facts_it_is_the_same(knowledge: Knowledge) -> None:
    picked = random.Random(7).sample(list(knowledge.by_kind["substrate"]), 20)
    named = {"id", "name", "kind", "aliases", "summary", "basis", "sources", "field_basis", "ranges", "house"}
    for entry in picked:
        facts = substrate({"like": entry.id}, knowledge, "t").entry.facts
        told = {k: v for k, v in entry.facts.items() if k.partition(".")[0] not in named}
        assert {k: facts.get(k) for k in told} == told
