"""What is worked out when the knowledge is compiled is what is worked out on the spot."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kb.engine.plan import Engine
from kb.engine.requirements import requirements
from kb.engine.screen import Screener
from kb.engine.screened import Screened
from kb.engine.search.reach import feasible
from kb.engine.settle import Propagation
from kb.knowledge import Knowledge
from tests.oracles.jobs import random_job


@pytest.fixture(scope="module")
def bare(knowledge: Knowledge) -> Engine:
    """An engine over the same knowledge with nothing worked out beforehand."""
    return Engine(replace(knowledge, index={}))


def told(screened: Screened) -> list[tuple[object, ...]]:
    return [(each.rule.id, each.conjunctions, each.constraints) for each in screened.grounded]


@pytest.mark.parametrize("seed", range(25))
def test_screened_the_same(seed: int, engine: Engine, bare: Engine) -> None:
    job, substrate = random_job(seed, engine.knowledge)
    one, other = engine.screened(job, substrate), bare.screened(job, substrate)
    assert told(one) == told(other)
    assert one.problem == other.problem


@pytest.mark.parametrize("seed", range(12))
def test_what_the_job_before_was_told_is_told_again_only_where_it_holds(seed: int, engine: Engine) -> None:
    """Each requirement let go in turn, and a part of another material: as if the engine had never seen another job."""
    job, substrate = random_job(seed, engine.knowledge)
    other = random_job(seed + 500, engine.knowledge)[1]
    asked = [(requirement.let_go(job), substrate) for requirement in requirements(job, substrate.facts)]
    for changed, part in [(job, substrate), *asked[:8], (job, other), (job, substrate)]:
        warm = engine.screened(changed, part)
        fresh = Engine(engine.knowledge).screened(changed, part)
        assert told(warm) == told(fresh)
        assert warm.problem == fresh.problem
        assert feasible(warm.unweighted_problem) == feasible(warm.problem)


@pytest.mark.parametrize("prefer", ["few-hazards", "time"])
def test_what_counts_more_is_as_if_it_had_been_asked_first(prefer: str, knowledge: Knowledge, engine: Engine) -> None:
    job, substrate = random_job(3, knowledge)
    engine.screened(job, substrate)
    warm, fresh = engine.screened(job, substrate, prefer), Engine(knowledge).screened(job, substrate, prefer)
    assert told(warm) == told(fresh)
    assert warm.problem == fresh.problem


def test_the_same_job_is_screened_once(engine: Engine) -> None:
    job, substrate = random_job(5, engine.knowledge)
    first = engine.screened(job, substrate)
    assert engine.screened(job, substrate) is first
    late = job.model_copy(update={"limits": job.limits.model_copy(update={"ready_within_h": 5.0})})
    assert engine.screened(late, substrate).problem.limit_ms != first.problem.limit_ms


def test_a_job_that_another_thread_screens_meanwhile_is_not_mixed_with_it(
    knowledge: Knowledge, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What every rule came to is kept with its own job: a like job that comes next is told from it."""
    shared = Engine(knowledge)
    (one, part), (other, elsewhere) = random_job(3, knowledge), random_job(9, knowledge)
    begin = Screener.unsettled
    waiting = [True]

    def interrupted(screener: Screener) -> Propagation:
        if waiting:
            waiting.clear()
            shared.screened(other, elsewhere)
        return begin(screener)

    monkeypatch.setattr(Screener, "unsettled", interrupted)
    shared.screened(one, part)
    assert not waiting
    late = one.model_copy(update={"limits": one.limits.model_copy(update={"ready_within_h": 5.0})})
    found, fresh = shared.screened(late, part), Engine(knowledge).screened(late, part)
    assert told(found) == told(fresh)
    assert found.problem == fresh.problem
