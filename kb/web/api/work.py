"""The day's work on a job: `estimate`, `bench`, `timeline`, `pick`. The body is the job; options are in the query."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any

from fastapi import APIRouter, Query

from kb.base.errors import BadInput
from kb.engine.chain import Chain
from kb.planning.ask import Asked
from kb.quantities import exact as solver
from kb.quantities.bench import fitness, ordinary
from kb.quantities.layout import exact as solved
from kb.quantities.workday import Workday
from kb.report.bench import bench_json
from kb.report.costs import costs_json
from kb.report.estimate import estimate_json
from kb.report.pick import pick_json
from kb.report.timeline import timeline_json
from kb.report.trace import yield_json
from kb.web.api import documents as d
from kb.web.api.bodies import JobBody, job_in
from kb.web.api.common import WITH_BODY, Json, OnDay, Prefer, Rank, problems
from kb.web.desk import Desk, TheDesk
from kb.web.reckoning import costed, estimated, picked, scheduled
from kb.web.workers import Heavy

router = APIRouter(route_class=Heavy, responses=WITH_BODY | problems(s409="No chain suits the job."), tags=["work"])

Few = Annotated[int | None, Query(ge=1, le=100)]
When = Annotated[str | None, Query(max_length=40)]


def planned(body: dict[str, Any], desk: Desk, rank: int, prefer: str | None = None) -> tuple[Asked, Chain]:
    """Give the job in a body, planned, and the chain that was chosen."""
    asked = desk.asked(job_in(body), max(3, rank), prefer, "body")
    return asked, asked.chain(rank)


@router.post("/estimate", responses=d.answer(d.ESTIMATE))
def estimate(body: JobBody, desk: TheDesk, rank: Rank = 1, prefer: Prefer = None) -> Json:
    """What to bring: attempts, amounts and packs, mixes, the room's air, and waste."""
    asked, chain = planned(body, desk, rank, prefer)
    found, costs, learned = costed(asked, chain, desk)
    more = {"learned_yield": yield_json(learned)} if learned else {}
    return Json(estimate_json(found) | {"cost": costs_json(costs)} | more)


@router.post("/bench", responses=d.answer(d.BENCH))
def bench(
    body: JobBody,
    desk: TheDesk,
    rank: Rank = 1,
    activated_h: Annotated[
        float | None, Query(ge=0, le=1e6, allow_inf_nan=False, description="Hours since the surface was treated.")
    ] = None,
) -> Json:
    """Whether the work may be done in the room as it is now: go, wait or stop, and what to change."""
    job = job_in(body)
    asked = desk.asked(ordinary(job), rank, None, "body")
    here = desk.asked(job, rank, None, "body").ranked(rank)
    return Json(bench_json(fitness(asked.engine, job, asked.resolved.entry, asked.chain(rank), activated_h, here)))


@router.post("/timeline", responses=d.answer(d.TIMELINE))
def timeline(
    body: JobBody,
    desk: TheDesk,
    rank: Rank = 1,
    technicians: Few = None,
    ovens: Few = None,
    oven_holds: Annotated[int | None, Query(ge=1, le=1000)] = None,
    clamps: Annotated[int | None, Query(ge=1, le=10_000)] = None,
    hours: Annotated[str | None, Query(max_length=40, description="Working hours (8-16:30).")] = None,
    days: Annotated[str | None, Query(max_length=40, description="Working days (mon-fri).")] = None,
    start: When = None,
    deadline: When = None,
) -> Json:
    """Who does what when: start by, ready at, what holds it up, and what one more of it would save."""
    if start is not None and deadline is not None:
        raise BadInput("deadline", "a start is given too", "leave one of them out")
    begin, end = (
        None if given is None else datetime.fromisoformat(desk.moment(given, name))
        for name, given in (("start", start), ("deadline", deadline))
    )
    asked, chain = planned(body, desk, rank)
    work, _ = estimated(asked, chain, desk)
    attempts = work.installations.attempts
    workday = Workday(technicians, ovens, oven_holds, clamps, hours, days)
    found = scheduled(work, workday, begin, end)
    quick = attempts * len(found.campaign.route) <= solver.QUICK
    return Json(timeline_json(found, solved(found, effort=1.0) if quick else None))


@router.post("/pick", responses=d.answer(d.PICK))
def pick(body: JobBody, desk: TheDesk, rank: Rank = 1, on: OnDay = None) -> Json:
    """What to take from which lot, first expired first out, and what is short. Nothing is reserved by asking."""
    asked, chain = planned(body, desk, rank)
    return Json(pick_json(picked(asked, chain, desk.day_of(asked.job, on), desk)))
