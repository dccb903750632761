"""Rounds: every step of every gauge once and in its order, and no surface waits longer than it keeps."""

from __future__ import annotations

from itertools import pairwise

import pytest

from kb.engine.plan import Engine
from kb.job import Job, job_of, read_job
from kb.planning.ask import Asked, ask
from kb.planning.demo import jobs
from kb.planning.procedure import procedure
from kb.quantities.layout import timeline
from kb.quantities.workday import defaults
from kb.work.rounds import Task, tasks

#: Glued with a drop under the thumb, which is the most that hangs on the clock.
DROP = job_of(
    {
        "part": {"substrate": "aluminium 6061"},
        "service": {"temperature_c": [15, 35]},
        "choose": {"adhesive": "ethyl-cyanoacrylate-low-viscosity"},
    },
    "drop",
)
JOBS = {**{name: read_job(path) for name, path in jobs().items()}, "drop": DROP}


def laid_out(engine: Engine, job: Job, gauges: int) -> tuple[Asked, list[Task]]:
    asked = ask(engine, job, "it")
    chain = asked.chain()
    return asked, tasks(timeline(asked.plan, chain, gauges), procedure(asked.plan, chain))


@pytest.mark.parametrize("gauges", [1, 3, 12, 25])
@pytest.mark.parametrize("name", sorted(JOBS))
def test_every_step_of_every_gauge_is_done_once_and_in_its_order(name: str, gauges: int, engine: Engine) -> None:
    asked, found = laid_out(engine, JOBS[name], gauges)
    count = len(procedure(asked.plan, asked.chain()))
    for gauge in range(1, gauges + 1):
        assert [step for task in found if gauge in task.installations for step in task.steps] == list(range(count))
    starts = [task.start_min for task in found]
    assert starts == sorted(starts)


@pytest.mark.parametrize("name", sorted(JOBS))
def test_what_shares_an_oven_goes_in_together(name: str, engine: Engine) -> None:
    asked, found = laid_out(engine, JOBS[name], 3)
    for row in timeline(asked.plan, asked.chain(), 3).rows():
        for step in row.steps if row.oven else ():
            (task,) = [task for task in found if step in task.steps and row.installation in task.installations]
            assert task.whole
            assert task.installations == (1, 2, 3)


@pytest.mark.parametrize("name", sorted(JOBS))
def test_what_follows_at_once_stays_with_its_gauge(name: str, engine: Engine) -> None:
    asked, found = laid_out(engine, JOBS[name], 12)
    steps = procedure(asked.plan, asked.chain())
    order = [(step, gauge) for task in found for gauge in task.installations for step in task.steps]
    for (_, before), (step, gauge) in pairwise(order):
        if steps[step].at_once:
            assert gauge == before, f"{steps[step].do} comes for another gauge than what went before"
    for task in found:
        assert len(task.steps) == 1 or len(task.installations) == 1
        for step in task.steps[:-1]:
            assert not steps[step].wait_s, "a clock ends a task"
            assert not steps[step].limit


def test_a_round_is_no_larger_than_its_surfaces_keep(engine: Engine) -> None:
    asked, found = laid_out(engine, DROP, 12)
    rows = list(timeline(asked.plan, asked.chain(), 1).rows())
    last = next(n for n, row in enumerate(rows) if row.stage == "mount") - 1
    each_min = sum(row.end_min - row.start_min for row in rows[last:] if row.stage in (rows[last].stage, "mount"))
    wiped = [task for task in found if task.steps == (0,)]
    keeps_min = defaults()["hands"]["prepared_keeps_min"]
    for task in wiped:
        assert len(task.installations) * each_min <= keeps_min
    assert max(len(task.installations) for task in wiped) == int(keeps_min // each_min) > 1, "and no smaller"


def test_twelve_gauges_take_a_third_of_the_screens(engine: Engine) -> None:
    asked, found = laid_out(engine, DROP, 12)
    assert len(found) < 12 * len(procedure(asked.plan, asked.chain())) / 2.9
