"""The few rules that leave a job no chain: enough by themselves, and never said of a job that has one."""

from __future__ import annotations

import random
from itertools import count, islice

import pytest

from kb.engine.core import core
from kb.engine.plan import Engine
from kb.engine.requirements import requirements
from kb.engine.search.reach import feasible
from tests.oracles.jobs import random_job


def test_what_empties_a_slot_empties_it_alone(engine: Engine) -> None:
    emptied = 0
    for seed in islice(count(), 120):
        job, part = random_job(seed, engine.knowledge)
        screened = engine.screened(job, part)
        rules = core(screened, {})
        assert bool(rules) == (not all(screened.remaining))
        if rules:
            emptied += 1
            assert engine.barred(job, part, rules, {}), seed
            assert len(rules) < len(screened.grounded)
    assert emptied > 10


@pytest.mark.parametrize("seed", range(40))
def test_what_is_barred_has_no_chain(seed: int, engine: Engine) -> None:
    """Each requirement of an impossible job let go in turn: where its core still bars it, no search finds a chain."""
    job, part = next(
        (job, part)
        for job, part in (random_job(n, engine.knowledge) for n in count(seed * 50))
        if not all(engine.screened(job, part).remaining)
    )
    rules = core(engine.screened(job, part), {})
    for requirement in requirements(job, part.facts):
        eased = requirement.let_go(job)
        if engine.barred(eased, part, rules, {}):
            assert not feasible(engine.screened(eased, part).problem), requirement.field


@pytest.mark.parametrize("seed", range(30))
def test_no_rules_bar_a_job_that_has_a_chain(seed: int, engine: Engine) -> None:
    """Whichever rules are asked, since a stage may be left out where a rule that isn't asked allows it."""
    draw = random.Random(seed)
    every = [rule.id for rule in engine.knowledge.rules]
    job, part = random_job(seed + 9000, engine.knowledge)
    if feasible(engine.screened(job, part).problem):
        for share in (0.05, 0.3, 0.9, 1.0):
            assert not engine.barred(job, part, frozenset(draw.sample(every, int(share * len(every)))), {})


def test_a_wanted_item_is_barred_by_what_closes_it(engine: Engine) -> None:
    job, part = next(
        (job, part)
        for job, part in (random_job(n, engine.knowledge) for n in count())
        if feasible(engine.screened(job, part).problem)
    )
    screened = engine.screened(job, part)
    slot = next(n for n, domain in enumerate(screened.domains) if domain.filled & ~screened.remaining[n])
    wanted = {slot: screened.domains[slot].filled & ~screened.remaining[slot]}
    rules = core(screened, wanted)
    assert rules
    assert engine.barred(job, part, rules, wanted)
    assert not engine.barred(job, part, rules, {})
    assert not core(screened, {})
