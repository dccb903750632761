"""What the pages share: the job in the address, and the token of a form that writes."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import Depends, Request

from kb.engine.check import Setting
from kb.job import Job
from kb.planning.ask import Asked, setting_for
from kb.web.desk import Desk, TheDesk
from kb.web.forms import job_from
from kb.web.problems import Problem
from kb.web.session import FIELD, ONCE, same, token_of


def job_in(request: Request) -> Job:
    """Give the job in the page's address; BadInput names the field."""
    return job_from(request.query_params.multi_items())


def rank_in(request: Request) -> int:
    """Tell which chain the page is about."""
    given = request.query_params.get("chain", "1")
    if not given.isdecimal() or not 1 <= int(given) <= 100:
        raise Problem(422, "bad-input", "chain", f"'{given}' is no rank", "a whole number from 1 to 100")
    return int(given)


def on_in(request: Request) -> str | None:
    """Give the day that the page is asked about; None where its address names none."""
    return request.query_params.get("on", "").strip() or None


def asked_in(request: Request, desk: Desk, top: int = 3, job: Job | None = None) -> Asked:
    """Plan the job in the page's address (or one made of it), with at least as many chains as the page is about."""
    prefer = request.query_params.get("prefer") or None
    return desk.asked(job or job_in(request), max(top, rank_in(request)), prefer, "form", on_in(request))


def has_job(request: Request) -> bool:
    """Tell whether the page's address says anything of a job."""
    return any(value.strip() for name, value in request.query_params.multi_items() if "." in name)


def setting_in(request: Request, desk: Desk) -> Setting | None:
    """Give the job in the page's address with what its part is made of; None where there is no job."""
    return setting_for(job_in(request), desk.known, "part.substrate") if has_job(request) else None


def of_this_session(request: Request, desk: Desk, token: object) -> None:
    """Raise Problem 403 where a form doesn't carry the token of the session that sends it."""
    if not isinstance(token, str) or not same(token, token_of(request.state.session, desk.settings.secret)):
        raise Problem(403, "session", "form", "is from another session", "load the page again and repeat it")


async def writes(request: Request, desk: TheDesk) -> dict[str, Any]:
    """Give the form of a write, let through only with the token of its session; and the word it carries once."""
    form = await request.form(max_files=1, max_fields=200)
    fields = dict(form.multi_items())
    of_this_session(request, desk, fields.pop(FIELD, None))
    if not isinstance(fields.get(ONCE), str):
        raise Problem(422, "bad-input", ONCE, "is missing", "load the page again and repeat it")
    return fields


Written = Annotated[dict[str, Any], Depends(writes)]
