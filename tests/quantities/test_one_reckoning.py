"""Plan, estimate and timeline say the same of one day, and its cups and packs hold on the schedule."""

from __future__ import annotations

import random
from typing import Any

import pytest

from kb.base.vocabulary import PROOF_STAGE
from kb.engine.plan import Engine
from kb.job import job_of
from kb.planning.ask import ask
from kb.planning.procedure import procedure
from kb.quantities.estimate import estimate
from kb.quantities.layout import attempts_of, hours_of, timeline
from kb.report.estimate import estimate_json
from kb.report.plan_json import plan_json
from kb.report.plan_short import answer_text
from kb.report.timeline import timeline_json
from kb.rules.roles import SLOTS
from tests.oracles.jobs import random_job

SEEDS = range(50)
READY = ("ready_after_min", "batch_ready_after_min", "within_limit")


def batch_of(seed: int) -> dict[str, Any]:
    """A batch of some size, with some hands and some haste."""
    draw = random.Random(seed)
    return {
        "batch": {
            "boards": draw.choice([1, 2, 7, 30]),
            "gauges_per_board": draw.choice([1, 2, 4]),
            "technicians": draw.choice([1, 1, 2, 3]),
            "expected_yield": draw.choice([0.8, 0.95, 1.0]),
        },
        "limits": draw.choice([{}, {"ready_within_h": draw.choice([4, 30, 120])}]),
    }


@pytest.mark.parametrize("seed", SEEDS)
def test_all_answers_give_the_same_times_and_keep_them(seed: int, engine: Engine) -> None:
    job, _ = random_job(seed, engine.knowledge)
    made = batch_of(seed)
    tables = job.model_dump(mode="json", exclude_defaults=True)
    asked = ask(engine, job_of({**tables, **made}, "law"), "law", top=1)
    if not asked.plan.chains:
        return
    plan, chain = asked.plan, asked.chain()
    planned = plan_json(plan, asked.resolved, None)["chains"][0]
    estimated = estimate_json(found := estimate(plan, chain))
    laid_out = timeline_json(timeline(plan, chain, attempts_of(plan.job.batch)), None)
    assert {k: planned[k] for k in READY} == {k: estimated[k] for k in READY} == {k: laid_out[k] for k in READY}
    assert planned["ready_after_min"] <= planned["batch_ready_after_min"]
    limit = plan.job.limits.ready_within_h
    assert planned["within_limit"] is (None if limit is None else planned["batch_ready_after_min"] <= limit * 60)
    if planned["within_limit"] is False:
        head = "\n".join(answer_text(asked, "short").splitlines()[:10])
        assert "limit" in head.lower()
    for mix in found.mixes:
        told = "pot-life-too-short-for-one" in {remark.rule for remark in mix.remarks}
        assert sum(cup.installations for cup in mix.cups) >= found.installations.attempts
        for cup in mix.cups:
            assert mix.pot_life_min is None or told or cup.done_s - cup.opened_s <= mix.pot_life_min * 60
    for line in found.lines:
        if line.packs is not None and line.pack_size is not None:
            assert line.packs * line.pack_size >= max(line.gross, line.range[1])


def test_the_search_counts_the_minutes_that_the_steps_take(engine: Engine) -> None:
    """What the search holds against the limit is what one installation takes that waits for nobody, to the second."""
    for seed in SEEDS:
        job, _ = random_job(seed, engine.knowledge)
        for chain in (asked := ask(engine, job, "law")).plan.chains:
            steps = [s for s in procedure(asked.plan, chain) if s.stage != PROOF_STAGE]
            own = engine.knowledge.tables["ranking"]["steps"]["minutes"]
            slots = [
                own[slot] + option.entry.facts.get("minutes", 0.0)
                for slot, option in zip(SLOTS, chain.picks, strict=True)
                if option.entry is not None
            ]
            minutes = sum(s.hands_min + s.wait_s / 60 for s in steps) + sum(slots)
            assert chain.critical_path_min == pytest.approx(minutes), seed
            assert chain.critical_path_min <= hours_of(asked.plan, chain).ready_after_min + 1e-6, seed
