"""Chains of some items alone: the same as if the catalog had never held any others."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from kb.engine.plan import Engine, Plan
from kb.knowledge import Entry, Knowledge
from tests.oracles.jobs import random_job


def told(plan: Plan) -> list[tuple[int, list[str]]]:
    return [(chain.cost, [option.id for option in chain.picks]) for chain in plan.chains]


def part_of(knowledge: Knowledge, seed: int) -> dict[str, Entry]:
    """Six in ten of the items, and every material."""
    draw = random.Random(seed)
    return {i: e for i, e in knowledge.entries.items() if e.kind == "substrate" or draw.random() < 0.6}


def test_only_what_is_named_is_used_and_the_best_of_it(knowledge: Knowledge, engine: Engine) -> None:
    met = set()
    for seed in range(25):
        job, entry = random_job(seed, knowledge)
        there = part_of(knowledge, seed)
        bare = Engine(replace(knowledge, entries=there, index={}))
        found = engine.among(engine.plan(job, entry, 3), there)
        assert told(found) == told(bare.plan(job, entry, 3))
        assert {option.id for chain in found.chains for option in chain.picks} <= {"", *there}
        met.add(told(found) == told(engine.plan(job, entry, 3)))
    assert met == {True, False}


def test_an_index_of_other_items_is_not_used(knowledge: Knowledge) -> None:
    with pytest.raises(ValueError, match="was made of other items"):
        Engine(replace(knowledge, entries=part_of(knowledge, 1)))
