"""A chain's cost is what its findings say, what an evaluator of its own says, and no neighbour is better."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from kb.engine.chain import Chain
from kb.engine.plan import Engine, Plan
from kb.rules.roles import SLOTS
from tests.oracles.evaluate import Choice, Points, choices, worth
from tests.oracles.jobs import random_job
from tests.sweep import swept

SEEDS = range(60)
PREFERENCES = (None, None, "time", "headroom", "few-hazards", "few-steps")


def planned(engine: Engine, seed: int, top: int = 10) -> tuple[Plan, Points]:
    job, substrate = random_job(seed, engine.knowledge)
    prefer = PREFERENCES[seed % len(PREFERENCES)]
    return engine.plan(job, substrate, top, prefer), Points(engine.knowledge.tables["ranking"], prefer)


def choices_of(chain: Chain) -> dict[str, Choice]:
    return {slot: Choice(o.entry, o.cure) for slot, o in zip(SLOTS, chain.picks, strict=True)}


@pytest.mark.parametrize("seed", SEEDS)
def test_cost_is_the_sum_of_what_is_shown_and_of_what_the_rules_say(engine: Engine, seed: int) -> None:
    plan, points = planned(engine, seed)
    for chain in plan.chains:
        assert chain.cost == sum(row.points for row in chain.score)
        known = worth(engine.knowledge, plan.screened.scene, choices_of(chain), points)
        assert known.allowed
        assert known.cost == chain.cost
        assert known.ms == round(chain.critical_path_min * 60_000)


def neighbours(chain: dict[str, Choice], engine: Engine) -> Iterator[dict[str, Choice]]:
    """Every chain that differs in one slot; coats may be added or taken off at the top."""
    for slot in SLOTS:
        for choice in choices(engine.knowledge, slot):
            if choice.name != chain[slot].name:
                yield {**chain, slot: choice}


@pytest.mark.parametrize("seed", swept(range(1000, 1012), 4))
def test_no_neighbour_of_the_best_chain_is_better(engine: Engine, seed: int) -> None:
    plan, points = planned(engine, seed, top=1)
    if not plan.chains:
        pytest.skip("no chain")
    best = plan.chains[0]
    for other in neighbours(choices_of(best), engine):
        known = worth(engine.knowledge, plan.screened.scene, other, points)
        assert not known.allowed or known.cost >= best.cost
