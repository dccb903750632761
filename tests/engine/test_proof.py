"""Knowledge that is too wide to be searched to the end: the search ends all the same, and says what is proven."""

from __future__ import annotations

import random
import time
from collections.abc import Iterator
from typing import Any

import pytest

from kb.engine.conflict import MOST_PLANS, trouble, trouble_of
from kb.engine.goal import Goal
from kb.engine.plan import Engine, Plan
from kb.job import job_of
from kb.knowledge import Entry, Knowledge
from kb.knowledge.tables import RankingTable
from kb.materials.resolve import Resolved
from kb.report.first import how_sure
from kb.report.plan_json import plan_json
from kb.report.plan_text import plan_text
from kb.rules.clauses import Clause
from kb.rules.roles import CHAIN_KINDS
from kb.rules.rule import Rule
from tests.oracles.generated import random_knowledge
from tests.oracles.jobs import random_job

KINDS = CHAIN_KINDS
JOB = {"part": {"substrate": "part"}, "service": {"temperature_c": [10, 60]}}


def said(plan: Plan, found: Any = None) -> tuple[dict[str, Any], str]:
    """The plan in JSON and in words, in one line."""
    resolved = Resolved(plan.substrate, plan.substrate.id, "id", 100.0)
    return plan_json(plan, resolved, found), " ".join(plan_text(plan, resolved, found).split())


def caution(number: int, points: int, *when: Clause) -> Rule:
    name, roles = f"rule-{number:03}", tuple({clause.roles().copy().pop(): None for clause in when})
    return Rule(name, name, "caution", roles, name, name, "", "memory", (), when, level=f"points-{points}")


def wide_knowledge(ranking: RankingTable, items: int = 30, rules: int = 150) -> Knowledge:
    """Items that no two rules treat alike, and cautions between half of one kind and half of another, of any weight."""
    draw = random.Random(7)
    entries = {"part": Entry("part", "substrate", "metal", "part", {"id": "part", "basis": "memory"})}
    for kind in KINDS:
        for number in range(items):
            name = f"{kind}-{number:02}"
            facts: dict[str, Any] = {"id": name, "basis": "memory", "min_c": -50, "max_c": 200, "hazards": ()}
            if kind == "adhesive":
                facts["schedules"] = ({"id": "cure", "duration_min": 5, "service_max_c": 200},)
            entries[name] = Entry(name, kind, "family", name, facts)

    def half(role: str) -> Clause:
        kind = "abrasive" if role.startswith("abrasive") else role
        return Clause(f"{role}.id", "one-of", tuple(f"{kind}-{n:02}" for n in draw.sample(range(items), items // 2)))

    roles = ("degreaser", "abrasive_dry", "conditioner", "neutraliser", "treatment", "backing", "adhesive")
    found = [caution(n, draw.randint(1, 99), *map(half, draw.sample(roles, 2))) for n in range(rules)]
    levels = {**ranking["levels"]} | {f"points-{points}": points for points in range(100)}
    return Knowledge(entries, tuple(found), {}, {"ranking": ranking | {"levels": levels}}, "wide")


@pytest.fixture(scope="module")
def wide(knowledge: Knowledge) -> Knowledge:
    return wide_knowledge(knowledge.tables["ranking"])


def planned(known: Knowledge, top: int, most_transitions: int) -> Plan:
    return Engine(known, most_transitions).plan(job_of(JOB, "t"), known.entries["part"], top)


def test_too_wide_a_knowledge_ends_and_says_what_is_open(wide: Knowledge) -> None:
    start = time.process_time()
    plan = planned(wide, 5, most_transitions=500)
    assert time.process_time() - start < 20
    best = plan.chains[0].cost
    assert plan.bound is not None
    assert plan.bound <= best
    assert how_sure(plan) == (
        f"The search was too wide and was stopped at its limit. Any chain that it missed costs {plan.bound} points "
        f"or more; the best that it found costs {best}. None of those shown is proven to be the best."
    )


def narrow(engine: Engine, most_transitions: int, jobs: int = 25, top: int = 5) -> Iterator[tuple[Engine, Plan]]:
    """Jobs on the real knowledge, within a limit that is much too tight for it."""
    tight = Engine(engine.knowledge, most_transitions)
    for seed in range(jobs):
        yield tight, tight.plan(*random_job(seed, engine.knowledge), top)


def test_text_and_document_say_what_is_proven(engine: Engine) -> None:
    met = set()
    for _, plan in narrow(engine, most_transitions=20):
        if plan.chains:
            document, text = said(plan)
            met.add(document["proven"])
            assert (document["proven"], document["bound"]) == (plan.bound is None, plan.bound)
            assert ("was stopped at its limit" in text) == (not document["proven"])
            assert how_sure(plan) in text
    assert met == {True, False}


def test_what_is_said_to_be_proven_is_and_the_bound_holds(knowledge: Knowledge) -> None:
    """A limit so tight that it is often met, against the search to the end."""
    met = {"all": 0, "some": 0, "none": 0}
    for seed in range(200):
        invented, job, entry = random_knowledge(seed, knowledge.tables["ranking"])
        whole, cut = (Engine(invented, most).plan(job, entry, 10) for most in (100_000, 6))
        assert whole.bound is None
        if cut.bound is None:
            met["all"] += 1
            assert cut.chains == whole.chains
            continue
        met["some" if cut.proven else "none"] += 1
        assert cut.chains[: cut.proven] == whole.chains[: cut.proven]
        found = [chain.picks for chain in cut.chains]
        assert all(chain.cost >= cut.bound for chain in whole.chains if chain.picks not in found)
        if cut.proven:
            sure = "The first is proven" if cut.proven == 1 else f"The first {cut.proven} are proven"
            assert f"{sure} to be the best." in how_sure(cut)
    assert all(met.values()), met


def test_nothing_found_before_the_end_is_not_called_impossible(engine: Engine) -> None:
    """There may be a chain all the same: no requirement is blamed, and none is to be let go."""
    seen = 0
    for tight, plan in narrow(engine, most_transitions=1, jobs=200):
        if plan.chains or plan.bound is None:
            continue
        seen += 1
        document, text = said(plan, trouble(tight, plan))
        assert (document["outcome"], document["proven"], document["bound"]) == ("no-chain", False, plan.bound)
        assert (document["conflict"], document["relaxations"], document["search"]["complete"]) == ([], [], False)
        assert f"What stands against a chain on {plan.substrate.name} was not found before the search stopped." in text
        assert "it met none." in text
        assert "would help" not in text
    assert seen > 3


@pytest.mark.parametrize("most", [0, 5, 8])
def test_what_would_help_is_looked_for_within_a_bound_that_is_shown(most: int, engine: Engine) -> None:
    part = {"substrate": "aluminium-2024", "max_process_temperature_c": 60}
    job = job_of({"part": part, "service": {"temperature_c": [15, 300], "exposures": ["mineral-oil"]}}, "t")
    goal = Goal(engine, engine.knowledge.entry("aluminium-2024"))
    found = trouble_of(goal, job, most_plans=most)
    assert (found.plans, found.complete) == (most, False)
    document, text = said(engine.plan(job, goal.substrate), found)
    assert document["proven"], "that there is no chain is certain"
    assert document["search"] == {"jobs_tried": most, "jobs_at_most": MOST_PLANS, "complete": False}
    assert f"Stopped after {most} jobs were tried, the most that is allowed: more may help." in text
    assert "No change of up to three" not in text
    assert "whatever else is let go" not in text
    if not found.conflict:
        assert document["conflict"] == []
        assert "was not found before the search stopped" in text
