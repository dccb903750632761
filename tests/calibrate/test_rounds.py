"""Rounds of fitting and holding, on a few comparisons of the shipped knowledge."""

from __future__ import annotations

import datetime
from typing import Any

import pytest

from kb.base.places import shipped
from kb.calibrate.rounds import best_of, calibrated, left_out
from kb.judged import Comparison, Side
from kb.knowledge import Knowledge
from kb.knowledge.ranking import LEVELS_FILE, load_levels

INDOORS = {"temperature_c": [15, 35], "duration_days": 1, "exposures": ["dry-air"]}


def judged(name: str, better: dict[str, Any], worse: dict[str, Any]) -> tuple[Comparison, str]:
    job = {"part": {"substrate": "carbon-steel"}, "service": INDOORS}
    day = datetime.date(2026, 11, 28)
    sides = {"better": Side(**better), "worse": Side(**worse)}
    return Comparison(id=name, why="w", basis="common-practice", added=day, job=job, **sides), name


COLD, WARM = {"adhesive": "cyanoacrylate"}, {"adhesive": "epoxy-room-cure"}
BARE: dict[str, Any] = {"coatings": []}
COATED: dict[str, Any] = {"coatings": ["polyurethane-lacquer"]}


@pytest.fixture(scope="module")
def levels() -> Any:
    return load_levels(shipped()[1] / LEVELS_FILE, "t")


def test_what_is_judged_comes_out(knowledge: Knowledge, levels: Any) -> None:
    """Both ways round: the points follow the judgement, not the other way."""
    for sides in ((COLD, WARM), (WARM, COLD)):
        rounds, _ = calibrated(knowledge, levels, [judged("one", *sides), judged("coat", COATED, BARE)])
        best = best_of(rounds)
        assert best.broken == []
        assert best.narrowest >= 1


def test_what_is_left_out_is_met_by_points_that_never_saw_it(knowledge: Knowledge, levels: Any) -> None:
    """Of two that contradict each other one's points miss the other; today's points have no say."""
    two = [judged("one", COLD, WARM), judged("other", WARM, COLD)]
    assert "other" in left_out(knowledge, levels, two)
    dear = {name: level.model_copy(update={"points": 7 * level.points}) for name, level in levels.items()}
    assert left_out(knowledge, dear, two[:1]) == left_out(knowledge, levels, two[:1])


def test_a_contradiction_is_broken_whatever_the_points(knowledge: Knowledge, levels: Any) -> None:
    rounds, _ = calibrated(knowledge, levels, [judged("one", COLD, WARM), judged("other", WARM, COLD)], most_rounds=4)
    assert all(len(each.broken) >= 1 for each in rounds)


def test_the_best_round_breaks_least_then_is_widest(knowledge: Knowledge, levels: Any) -> None:
    rounds, _ = calibrated(knowledge, levels, [judged("one", WARM, COLD), judged("coat", BARE, COATED)], most_rounds=4)
    best = best_of(rounds)
    assert all(len(best.broken) <= len(each.broken) for each in rounds)
    assert all(best.narrowest >= each.narrowest for each in rounds if len(each.broken) == len(best.broken))
    assert best_of(rounds[:1]) is rounds[0]
