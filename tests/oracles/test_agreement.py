"""The ten best costs by the engine, by clingo and by CP-SAT: on scenarios, random jobs and invented knowledge.

The oracles solve a problem that is built from the rules without the engine (tests.oracles.model); where a
knowledge base is small enough, every chain is also judged as a whole. `python -m tests.oracles` does the same with as
many of each as it is asked for.
"""

from __future__ import annotations

import tomllib
from collections import Counter
from pathlib import Path

import pytest

from kb.base.errors import BadInput
from kb.engine.plan import Engine
from kb.job import job_of
from kb.knowledge import Knowledge
from kb.materials.resolve import substrate
from tests.oracles.compare import CORNERS, K, chains_agree, corners, costs_agree, invented
from tests.oracles.generated import PROFILES
from tests.oracles.jobs import random_job
from tests.oracles.model import Builder
from tests.sweep import swept

SCENARIOS = sorted((Path(__file__).parent.parent / "scenarios").glob("*.toml"))
#: Seeds in bundles: each is one test, so that several processes share the work.
BUNDLES = [range(start, start + 15) for start in swept(range(0, 300, 15), 2)]
PREFERENCES = (None, None, None, "time", "headroom", "few-hazards", "few-steps")
#: Every chain is judged by itself in knowledge of at most so many: all that is scarce.
FEW_CHAINS = 4100


@pytest.fixture(scope="module")
def builders(knowledge: Knowledge) -> dict[str | None, Builder]:
    return {prefer: Builder(knowledge, prefer) for prefer in PREFERENCES}


@pytest.mark.parametrize("path", SCENARIOS, ids=[path.stem for path in SCENARIOS])
def test_every_scenario(path: Path, engine: Engine, builders: dict[str | None, Builder]) -> None:
    job = job_of(tomllib.loads(path.read_text())["task"], "scenario")
    try:
        entry = substrate(job.part.substrate, engine.knowledge, "scenario").entry
    except BadInput:
        pytest.skip("a substrate that the scenario expects to be refused")
    costs_agree(engine, builders[None], job, entry)


@pytest.mark.parametrize("seeds", BUNDLES, ids=str)
def test_random_jobs_on_the_real_knowledge(seeds: range, engine: Engine, builders: dict[str | None, Builder]) -> None:
    for seed in seeds:
        prefer = PREFERENCES[seed % len(PREFERENCES)]
        costs_agree(engine, builders[prefer], *random_job(seed, engine.knowledge), prefer)


@pytest.mark.parametrize("seeds", BUNDLES, ids=str)
def test_invented_knowledge(seeds: range, knowledge: Knowledge) -> None:
    """The costs; of small knowledge the very chains, in their order."""
    small = 0
    for seed in seeds:
        engine, job, entry = invented(seed, knowledge)
        plan = costs_agree(engine, Builder(engine.knowledge), job, entry)
        small += chains_agree(plan, FEW_CHAINS)
    assert small >= len(seeds) // len(PROFILES)


def test_invented_knowledge_hits_the_corners(knowledge: Knowledge) -> None:
    met: Counter[str] = Counter()
    for seed in range(600):
        engine, job, entry = invented(seed, knowledge)
        met.update(corners(engine.plan(job, entry, K)))
    assert set(met) == set(CORNERS)
    assert min(met.values()) >= 10, met
