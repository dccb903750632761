"""Requests share one engine: what it answers to many at once is what it answers to one after the other."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from kb.engine.plan import Engine
from kb.job import Job
from kb.knowledge import Entry, load
from kb.materials.resolve import Resolved
from kb.report.plan_json import plan_json
from kb.web.desk import Desk
from kb.web.settings import Settings
from tests.oracles.jobs import random_job

SEEDS = range(48)
#: So few plans are kept here.
KEPT = 8


@pytest.fixture
def impatient() -> Iterator[None]:
    """Threads take turns a hundred times as often as they would."""
    usual = sys.getswitchinterval()
    sys.setswitchinterval(5e-5)
    yield
    sys.setswitchinterval(usual)


def answer(engine: Engine, job: Job, part: Entry) -> str:
    plan = engine.plan(job, part, top=3)
    return json.dumps(plan_json(plan, Resolved(part, part.id, "id", 100.0), None))


@pytest.mark.usefixtures("impatient")
def test_plans_made_at_once_are_those_made_one_by_one() -> None:
    known = load()
    asked = [random_job(seed, known) for seed in SEEDS]
    alone = Engine(known)
    expected = [answer(alone, *one) for one in asked]
    shared = Engine(known)
    with ThreadPoolExecutor(8) as pool:
        found = list(pool.map(lambda one: answer(shared, *one), asked))
    assert found == expected


@pytest.mark.usefixtures("impatient")
def test_the_desk_keeps_the_plans_asked_for_last(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("kb.web.desk.PLANS_KEPT", KEPT)
    desk = Desk(Settings(workspace=tmp_path))
    jobs = [random_job(seed, desk.known)[0] for seed in range(6)] * 8
    with ThreadPoolExecutor(8) as pool:
        plans = list(pool.map(desk.asked, jobs))
    for number in range(6):
        assert len({p.plan.chains[:1] and p.plan.chains[0].cost for p in plans[number::6]}) == 1
    again = desk.asked(jobs[0])
    assert desk.asked(jobs[0]) is again
    for seed in range(100, 100 + KEPT):
        desk.asked(random_job(seed, desk.known)[0])
    assert desk.asked(jobs[0]) is not again
