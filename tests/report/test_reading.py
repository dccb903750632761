"""What can hurt for life is read first, then what costs a chain most; nothing is lost in the ordering."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest

from kb.engine.plan import Engine
from kb.job import read_job
from kb.planning.ask import Asked, ask
from kb.report.plan_short import answer_text
from kb.report.reading import must_know, must_read
from kb.rules.findings import distinct

DEMO = Path(__file__).parents[2] / "generic_catalog" / "demo"


@pytest.fixture(scope="module")
def fitted(engine: Engine) -> Asked:
    """A fitted board: that it is dead and earthed costs every chain the same little, other cautions cost more."""
    return ask(engine, read_job(DEMO / "1-board.toml"), "job")


def test_what_can_hurt_for_life_comes_first_then_by_cost(fitted: Asked) -> None:
    order = must_read(fitted.plan, fitted.chain())
    ranking = fitted.plan.screened.ranking
    keys = [(not f.rule.urgent, -ranking.of_rule(f.rule, f.known).points) for f in order]
    assert order[0].rule.id == "power-off-and-earth"
    assert keys[1] > keys[0]
    assert keys[1][1] < keys[0][1]
    assert all(before <= after for before, after in pairwise(keys))


def test_nothing_is_lost(fitted: Asked) -> None:
    findings = distinct(fitted.chain().findings)
    wanted = {f.key() for f in findings if f.verdict in ("caution", "need")}
    known = must_know(fitted.plan, fitted.chain())
    assert {f.key() for f in known} == wanted
    assert len(known) == len(wanted)


@pytest.mark.parametrize("shown", ["short", "full"])
def test_both_texts_begin_with_it(fitted: Asked, shown: str) -> None:
    lines = answer_text(fitted, shown).splitlines()
    first = next(line for line in lines if line.startswith(("  ! ", "  caution: ")))
    assert "switch off and discharge" in first
