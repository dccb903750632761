"""What follows of a wire from how it stands each exposure, and that a sealed gauge has its cable."""

from __future__ import annotations

from kb.base.vocabulary import EXPOSURES
from kb.knowledge import Knowledge


def test_what_ruins_a_wire_follows_from_its_ratings(knowledge: Knowledge) -> None:
    for wire in knowledge.by_kind["wire"]:
        grades = {exposure: wire.facts[f"resists.{exposure}"] for exposure in EXPOSURES}
        assert set(wire.facts["ruined_by"]) == {e for e, grade in grades.items() if grade == "poor"}
        assert set(wire.facts["worn_by"]) == {e for e, grade in grades.items() if grade == "fair"}


def test_a_sealed_gauge_has_a_cable_that_is_made_up_with_it(knowledge: Knowledge) -> None:
    assert any(backing.facts["hermetic"] for backing in knowledge.by_kind["backing"])
    assert any(wire.facts["sealed"] for wire in knowledge.by_kind["wire"])
