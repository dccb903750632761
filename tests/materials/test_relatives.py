"""What is nearest to a material in the facts that rules read."""

from __future__ import annotations

from typing import Any

import pytest

from kb.knowledge import Knowledge
from kb.materials.relatives import likeness, relatives


@pytest.mark.parametrize(
    ("one", "other", "like"),
    [
        (70.0, 70.0, 1.0),
        (70.0, 35.0, 0.5),
        (35, 70, 0.5),
        (0.0, 5.0, 0.0),
        (0.0, 0.0, 1.0),
        (-5.0, 5.0, 0.0),
        ("soft", "soft", 1.0),
        (True, False, 0.0),
        (True, 1, 1.0),
        ((), (), 1.0),
        (("a", "b"), ("b", "c"), 1 / 3),
        (("a",), (), 0.0),
        ((), ("a",), 0.0),
        (("a",), "a", 0.0),
        ("a", ("a",), 0.0),
        (True, 2, 0.0),
        (0.5, 1.0, 0.5),
    ],
)
def test_how_alike_two_values_are(one: Any, other: Any, like: float) -> None:
    assert likeness(one, other) == pytest.approx(like)


def test_a_material_is_nearest_to_itself(knowledge: Knowledge) -> None:
    for item in ("brass-c36000", "peek", "concrete"):
        nearest, *others = relatives(knowledge.entry(item), knowledge, most=3)
        assert (nearest.entry.id, nearest.likeness, nearest.differs) == (item, 1.0, ())
        assert [other.likeness for other in others] == sorted((o.likeness for o in others), reverse=True)
        assert len(others) == 2


def test_what_differs_is_told_with_both_values(knowledge: Knowledge) -> None:
    entry = knowledge.entry("peek")
    harder = entry._replace(id="other", facts={**entry.facts, "id": "other", "porous": not entry.facts["porous"]})
    nearest = relatives(harder, knowledge, most=1)[0]
    assert nearest.entry.id == "peek"
    assert nearest.differs == (("porous", not entry.facts["porous"], entry.facts["porous"]),)
    assert nearest.likeness == pytest.approx(1 - 1 / nearest.compared)


def test_three_are_named_and_what_follows_from_other_facts_is_not_compared(knowledge: Knowledge) -> None:
    entry = next(e for e in knowledge.by_kind["substrate"] if "hansen.dph" in e.facts)
    moved = {**entry.facts, "hansen.dph": [1.0, 1.0, 1.0]}
    found = relatives(entry._replace(facts=moved), knowledge)
    assert len(found) == 3
    assert (found[0].entry.id, found[0].differs) == (entry.id, ())
