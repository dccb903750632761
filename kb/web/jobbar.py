"""The one bar that stands on every page of a job: what the job is, and the way to all that is asked about it."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import urlencode

from starlette.requests import Request

from kb.job import Job
from kb.web.forms import ABOUT_MATERIAL

#: The pages about a job, in the order in which the work needs them.
JOB_PAGES = (
    ("/", "Answer"),
    ("/bench-run", "Bench run"),
    ("/room", "Room"),
    ("/amounts", "Amounts"),
    ("/pick", "Pick"),
    ("/timeline", "Schedule"),
    ("/record", "Record"),
    ("/sheet", "Bench sheet"),
    ("/approval", "Approval form"),
    ("/pictures", "Pictures"),
    ("/job", "Job file"),
)
#: What an address says of a job beside its fields.
_BESIDE = ("prefer", "chain")


@dataclass(frozen=True, slots=True)
class JobBar:
    """A job in few words. `query` asks about it, with the chain that the page is about."""

    query: str
    part: str
    service: str
    deadline: str
    kept: bool


def bar_of(request: Request) -> JobBar | None:
    """Give the bar of the job in the page's address; None where no part is named in it."""
    tables = set(Job.model_fields)
    given = request.query_params.multi_items()
    own = (("." in name and name.partition(".")[0] in tables) or name in _BESIDE for name, _ in given)
    pairs = [pair for pair, is_own in zip(given, own, strict=True) if is_own and pair[1].strip()]
    said = dict(pairs)
    part = said.get("part.substrate") or next((v for n, v in pairs if n.startswith(ABOUT_MATERIAL)), "")
    if not part:
        return None
    ends = [said[name] for n in (0, 1) if (name := f"service.temperature_c.{n}") in said]
    span = [f"{ends[0]} to {ends[1]} degC"] if len(ends) == 2 else []
    exposures = [value.replace("-", " ") for name, value in pairs if name.startswith("service.exposures")]
    service = ", ".join([*span, *exposures[:3]]) + (" …" if exposures[3:] else "")
    limit, day = said.get("limits.ready_within_h"), said.get("job.planned_on")
    deadline = "; ".join([f"ready within {limit} h"] * bool(limit) + [f"planned for {day}"] * bool(day))
    kept = any(name.startswith("choose.") and name != "choose.prefer" for name in said)
    return JobBar(urlencode(pairs), part, service, deadline, kept)
