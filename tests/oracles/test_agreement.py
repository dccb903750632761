"""The ten best costs by the engine, by clingo and by CP-SAT: on scenarios, random jobs and invented knowledge.

The oracles solve a problem that is built from the rules without the engine (tests.oracles.model); where a
knowledge base is small enough, every chain is also judged as a whole.
"""

from __future__ import annotations

import tomllib
from collections import Counter
from itertools import product
from pathlib import Path

import pytest

from kb.engine.plan import Engine, Plan
from kb.engine.slots import SLOTS
from kb.engine.solve import k_best
from kb.errors import BadInput
from kb.job import job_of
from kb.knowledge import Knowledge
from kb.resolve import substrate
from tests.oracles import by_clingo, by_cp_sat
from tests.oracles.evaluate import Choice, Points, choices, well_formed, worth
from tests.oracles.generated import PROFILES, random_knowledge
from tests.oracles.jobs import random_job
from tests.oracles.model import Builder

K = 10
SCENARIOS = sorted((Path(__file__).parent.parent / "scenarios").glob("*.toml"))
#: Seeds in bundles: each is one test, so that several processes share the work.
BUNDLES = [range(start, start + 15) for start in range(0, 300, 15)]


PREFERENCES = (None, None, None, "time", "headroom", "few-hazards", "few-steps")


@pytest.fixture(scope="module")
def builders(knowledge: Knowledge) -> dict[str | None, Builder]:
    return {prefer: Builder(knowledge, prefer) for prefer in PREFERENCES}


def costs(plan: Plan) -> list[int]:
    return [chain.cost for chain in plan.chains]


def oracles_say(builder: Builder, plan: Plan) -> list[list[int]]:
    model = builder.model(plan.screened.scene)
    return [oracle.k_best_costs(model, K) for oracle in (by_clingo, by_cp_sat)]


@pytest.mark.parametrize("path", SCENARIOS, ids=[path.stem for path in SCENARIOS])
def test_every_scenario(path: Path, engine: Engine, builders: dict[str | None, Builder]) -> None:
    job = job_of(tomllib.loads(path.read_text())["task"], "scenario")
    try:
        entry = substrate(job.part.substrate, engine.knowledge, "scenario").entry
    except BadInput:
        pytest.skip("a substrate that the scenario expects to be refused")
    plan = engine.plan(job, entry, K)
    assert oracles_say(builders[None], plan) == [costs(plan)] * 2


@pytest.mark.parametrize("seeds", BUNDLES, ids=str)
def test_random_jobs_on_the_real_knowledge(seeds: range, engine: Engine, builders: dict[str | None, Builder]) -> None:
    for seed in seeds:
        prefer = PREFERENCES[seed % len(PREFERENCES)]
        plan = engine.plan(*random_job(seed, engine.knowledge), K, prefer)
        assert oracles_say(builders[prefer], plan) == [costs(plan)] * 2, f"seed {seed}"


def generated(seed: int, knowledge: Knowledge) -> Plan:
    invented, job, entry = random_knowledge(seed, dict(knowledge.tables["ranking"]))
    return Engine(invented).plan(job, entry, K)


@pytest.mark.parametrize("seeds", BUNDLES, ids=str)
def test_invented_knowledge(seeds: range, knowledge: Knowledge) -> None:
    for seed in seeds:
        plan = generated(seed, knowledge)
        assert oracles_say(Builder(plan.knowledge), plan) == [costs(plan)] * 2, f"seed {seed}"


def every_worth(plan: Plan) -> list[tuple[int, tuple[str, ...]]]:
    """Cost and picks of every allowed chain, judged whole and in order: cost, then positions."""
    points = Points(plan.knowledge.tables["ranking"])
    here = [list(enumerate(choices(plan.knowledge, slot))) for slot in SLOTS]
    found: list[tuple[int, tuple[int, ...], tuple[str, ...]]] = []
    for way in product(*here):
        chain = {slot: choice for slot, (_, choice) in zip(SLOTS, way, strict=True)}
        if well_formed(chain):
            known = worth(plan.knowledge, plan.screened.scene, chain, points)
            if known.allowed:
                found.append((known.cost, tuple(p for p, _ in way), tuple(c.name for c in chain.values())))
    return [(cost, names) for cost, _, names in sorted(found)]


@pytest.mark.parametrize("seed", range(PROFILES.index("scarce"), 120, len(PROFILES)))
def test_small_knowledge_chain_by_chain(seed: int, knowledge: Knowledge) -> None:
    """Not the costs alone: the very chains, in their order."""
    plan = generated(seed, knowledge)
    got = [(c.cost, tuple(Choice(o.entry, o.cure).name for o in c.picks)) for c in plan.chains]
    assert got == every_worth(plan)[:K]


def test_invented_knowledge_hits_the_corners(knowledge: Knowledge) -> None:
    """No chain, exactly one, fewer than asked for, all alike, needs, stacks of three, a limit that bites."""
    met: Counter[str] = Counter()
    for seed in range(300):
        plan = generated(seed, knowledge)
        met.update(corners(plan))
    assert set(met) == CORNERS, CORNERS - set(met)


CORNERS = {"none", "one", "few", "ties", "need supplied", "need waits", "three coats", "late", "unknown"}


def corners(plan: Plan) -> set[str]:
    found = {0: {"none"}, 1: {"one"}}.get(len(plan.chains), {"few"} if len(plan.chains) < K else set())
    if len(plan.chains) == K and len(set(costs(plan))) == 1:
        found.add("ties")
    for chain in plan.chains:
        found |= {"need supplied" if f.rule.needs else "need waits" for f in chain.findings if f.verdict == "need"}
        found |= {"unknown" for f in chain.findings if not f.known}
        found |= {"three coats"} if len(chain.coatings) == 3 else set()
    problem = plan.screened.problem
    if problem.limit_ms is not None and k_best(problem, K) != k_best(problem._replace(limit_ms=None), K):
        found.add("late")
    return found
