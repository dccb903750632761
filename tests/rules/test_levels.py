"""The points that a lab's older rules give, as levels: the nearest in meaning, and rising as the points do."""

from __future__ import annotations

import pytest

from kb.base.places import shipped
from kb.knowledge.ranking import LEVELS_FILE, load_levels
from kb.rules.levels import level_of

POINTS = {name: level.points for name, level in load_levels(shipped()[1] / LEVELS_FILE, "t").items()}


@pytest.mark.parametrize("verdict", ["prefer", "caution", "need"])
def test_more_points_are_never_a_lower_level(verdict: str) -> None:
    found = [POINTS[level_of(verdict, weight)] for weight in range(1001)]
    assert found == sorted(found)
    assert level_of(verdict, 0) == "free"


def test_a_caution_and_a_preference_have_levels_of_their_own() -> None:
    assert (level_of("caution", 1000), level_of("prefer", 1000)) == ("last-resort", "strong-advantage")
