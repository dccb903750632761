"""A material of which only the class is known: each fact at its cautious end, and unknown where there is none."""

from __future__ import annotations

from typing import Any

import pytest

from kb.knowledge import Knowledge
from kb.materials.classes import cautious, class_entry, class_meant, members

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
