"""What is worked out when the knowledge is compiled is what is worked out on the spot."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kb.engine.plan import Engine
from kb.knowledge import Knowledge
from tests.oracles.jobs import random_job


@pytest.fixture(scope="module")
def bare(knowledge: Knowledge) -> Engine:
    """An engine over the same knowledge with nothing worked out beforehand."""
    return Engine(replace(knowledge, index={}, pieces={}))


@pytest.mark.parametrize("seed", range(25))
def test_screened_the_same(seed: int, engine: Engine, bare: Engine) -> None:
    job, substrate = random_job(seed, engine.knowledge)
    one, other = engine.screened(job, substrate), bare.screened(job, substrate)
    assert [(said.rule.id, said.pieces, said.joins) for said in one.said] == [
        (said.rule.id, said.pieces, said.joins) for said in other.said
    ]
    assert one.problem == other.problem


def test_most_rules_are_worked_out_beforehand(knowledge: Knowledge) -> None:
    """Else compiling would be of no use: most rules read of the job only what decides whether they speak."""
    assert len(knowledge.pieces) > len(knowledge.rules) / 2
