"""Plan, estimate, timeline, pick and order say the same of one day; its cups, packs and lots hold on the schedule."""

from __future__ import annotations

import pytest

from kb.base.vocabulary import PROOF_STAGE
from kb.engine.plan import Engine
from kb.job import job_of
from kb.planning.ask import ask
from kb.planning.procedure import procedure
from kb.quantities.estimate import estimate
from kb.quantities.layout import hours_of
from kb.report.estimate import estimate_json
from kb.report.plan_json import plan_json
from kb.report.plan_short import answer_text
from kb.rules.roles import SLOTS
from tests.oracles.jobs import random_job
from tests.quantities.laws import LAWS, READY

SEEDS = range(50)


@pytest.mark.parametrize("law", LAWS)
@pytest.mark.parametrize("seed", SEEDS)
def test_a_random_day_keeps_the_laws(seed: int, law: str, engine: Engine) -> None:
    LAWS[law](seed, engine)


@pytest.mark.parametrize("seed", range(0, 50, 5))
def test_what_the_record_says_of_a_chain_counts_in_every_answer(seed: int, engine: Engine) -> None:
    job, _ = random_job(seed, engine.knowledge)
    tables = {**job.model_dump(mode="json", exclude_defaults=True), "batch": {"boards": 12, "expected_yield": 0.99}}
    asked = ask(engine, job_of(tables, "law"), "law", top=2)
    if not asked.plan.chains:
        return
    learned = {frozenset(asked.chain().named.items()): 0.5}
    again = ask(engine, asked.job, "law", top=2, yields=learned)
    planned = plan_json(again.plan, again.resolved, None)["chains"]
    for chain, told in zip(again.plan.chains, planned, strict=True):
        found = estimate(again.plan, chain)
        assert found.installations.expected_yield == (0.5 if chain.rank == 1 else 0.99)
        assert {k: told[k] for k in READY} == {k: estimate_json(found)[k] for k in READY}
    said = " ".join(answer_text(again, "short").split())
    assert "the yield that the lab's record gives this chain, 50 %; the job says 99 %" in said


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
