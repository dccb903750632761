"""The lint holds every judged comparison: what the points break, what is said twice, and levels that none bears on."""

from __future__ import annotations

import datetime
from dataclasses import replace
from typing import Any

import pytest

from kb.judged import Comparison, Side
from kb.knowledge.cache import roots
from kb.lint import LINTERS, plant, run
from kb.lint.tree import Tree

JOB: dict[str, Any] = {
    "part": {"substrate": "carbon-steel"},
    "service": {"temperature_c": [15, 35], "duration_days": 1, "exposures": ["dry-air"]},
}
COLD, HOT = Side(adhesive=("cyanoacrylate",)), Side(adhesive=("epoxy-heat-cure",))


def judged(name: str, better: Side, worse: Side, days: float = 1) -> tuple[Comparison, str]:
    day = datetime.date(2026, 11, 28)
    job = {**JOB, "service": {**JOB["service"], "duration_days": days}}
    found = Comparison(id=name, why="w", basis="common-practice", added=day, job=job, better=better, worse=worse)
    return found, f"rules/judged/{name}.toml"


@pytest.fixture(scope="module")
def tree() -> Tree:
    return plant(roots(None))


def said(tree: Tree, name: str, *comparisons: tuple[Comparison, str]) -> dict[str, str]:
    found = run(replace(tree, comparisons=comparisons, exceptions={}), [LINTERS[name]])
    return {problem.where: problem.what for problem in found}


def test_a_comparison_that_the_points_break_is_found(tree: Tree) -> None:
    good, bad = judged("good", COLD, HOT), judged("bad", HOT, COLD)
    found = said(tree, "judged", good, bad)
    assert good[1] not in found
    assert "don't keep it, by" in found[bad[1]]


def test_a_level_that_no_comparison_bears_on_is_found(tree: Tree) -> None:
    found = said(tree, "judged", judged("good", COLD, HOT))
    assert found["last-resort"] == "no comparison bears on this level"
    assert "free" not in found
    assert "hour-before-a-day" not in found


def test_a_side_that_has_no_chain_is_found(tree: Tree) -> None:
    found = said(tree, "judged", judged("nothing", Side(adhesive=("glue",)), HOT))
    assert "'glue' is no adhesive" in found["rules/judged/nothing.toml"]


def test_two_that_say_the_same_are_found(tree: Tree) -> None:
    one, twin, longer = judged("one", COLD, HOT), judged("twin", COLD, HOT, 1.5), judged("longer", COLD, HOT, 90)
    found = said(tree, "judged-twice", one, twin, longer)
    assert found == {one[1]: "'twin' says the same"}


@pytest.mark.parametrize(
    ("linter", "citation", "what"),
    [
        (
            "unknown-source",
            {"id": "no-such-work", "locator": "page 1"},
            "cites 'no-such-work', which is not in sources.toml",
        ),
        ("unlocated", {"id": "nasa-std-6016b", "locator": "passim"}, "cites the whole of 'nasa-std-6016b'"),
        ("unlocated", None, "rests on a handbook, and no source is named"),
    ],
)
def test_a_citation_is_held_as_a_rules_is(linter: str, citation: dict[str, str] | None, what: str, tree: Tree) -> None:
    good, where = judged("good", COLD, HOT)
    sources = [citation] if citation else []
    cited = Comparison.model_validate({**good.model_dump(), "basis": "handbook", "sources": sources})
    assert said(tree, linter, (cited, where)) == {where: what}
    assert where not in said(tree, linter, (good, where))
