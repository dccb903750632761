"""What a job comes to: `plan`."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Body, Query

from kb.job import Job, job_of
from kb.report.plan_json import plan_json
from kb.web.api.common import Json, TheDesk, problems

router = APIRouter()
#: A job as the job file has it. It is read by the job file's own reader, which says faults in one line.
JobBody = Annotated[dict[str, Any], Body(openapi_examples={}, description="A job, as the job file has it.")]
Top = Annotated[int, Query(ge=1, le=100, description="How many chains.")]


def job_in(body: dict[str, Any]) -> Job:
    """The job that a request's body holds; BadInput names the field."""
    return job_of(body, "body")


@router.post("/plan", responses=problems(s422="The job can't be used as it stands."))
def plan(body: JobBody, desk: TheDesk, top: Top = 3, prefer: str | None = None) -> Json:
    """The ranked chains for a job, with steps, reasons and refusals; or what stands against it."""
    asked = desk.asked(job_in(body), top, prefer)
    return Json(plan_json(asked.plan, asked.resolved, asked.trouble))
