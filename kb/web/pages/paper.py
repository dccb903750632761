"""What is printed or taken away: the bench sheet, the approval form, the pictures, and the job as a file."""

from __future__ import annotations

import base64
import hashlib
import re
import tomllib
from typing import Any

from fastapi import APIRouter, Request, UploadFile
from markupsafe import escape
from starlette.responses import RedirectResponse, Response

from kb.base.errors import BadInput
from kb.job import job_of
from kb.report.approval import approval_form
from kb.report.form import Paper
from kb.report.jobfile import job_toml
from kb.report.pictures.layers import layers_picture
from kb.report.pictures.stack import stack_picture
from kb.report.pictures.temperatures import temperature_picture
from kb.report.pictures.timeline import timeline_picture
from kb.report.sheet import bench_sheet
from kb.web.desk import TheDesk
from kb.web.forms import query_of
from kb.web.guard import CSP
from kb.web.pages.common import Written, asked_in, has_job, job_in, on_in, rank_in
from kb.web.pages.day import head, with_job
from kb.web.reckoning import picked
from kb.web.render import page
from kb.web.workers import Heavy

router = APIRouter(route_class=Heavy)
PAPERS: dict[str, Paper] = {"a4": "a4", "letter": "letter"}


@router.get("/sheet")
def sheet(request: Request, desk: TheDesk) -> Response:
    """The page to work from at the bench; with `lots` in the address, those that the shelf would give stand in it."""

    def answer() -> Response:
        asked, rank = asked_in(request, desk), rank_in(request)
        chain = asked.chain(rank)
        filled = bool(request.query_params.get("lots"))
        lots = picked(asked, chain, desk.day_of(asked.job, on_in(request)), desk) if filled else None
        document = bench_sheet(asked.plan, asked.resolved, chain, _paper(request), lots)
        return printed(document, head(asked, rank)["back"])

    return with_job(request, "Bench sheet", "the page to work from at the bench", answer)


@router.get("/approval")
def approval(request: Request, desk: TheDesk) -> Response:
    """The form for whoever approves."""

    def answer() -> Response:
        asked = asked_in(request, desk)
        rank = rank_in(request)
        document = approval_form(
            asked.plan, asked.resolved, asked.chain(rank), _paper(request), asked.hangs_on, asked.others
        )
        return printed(document, head(asked, rank)["back"])

    return with_job(request, "Approval form", "the form for whoever approves", answer)


def printed(document: str, back: str = "") -> Response:
    """Give a self-contained page to print, on the screen with the way `back` to a job.

    Only its own style is let through.

    Printing is left to the browser: a page that runs no script can't ask for it.
    """
    if back:
        way = f'<nav class="screen" aria-label="Back"><a href="/?{escape(back)}">Back to the answer</a></nav>'
        document = document.replace("<body>", f"<body>\n{way}", 1)
    styles = re.findall(r"<style>(.*?)</style>", document, re.DOTALL)
    hashes = " ".join(f"'sha256-{base64.b64encode(hashlib.sha256(s.encode()).digest()).decode()}'" for s in styles)
    policy = CSP.replace("script-src 'self'; style-src 'self'", f"style-src {hashes}")
    return Response(document, headers={"Content-Security-Policy": policy}, media_type="text/html; charset=utf-8")


def _paper(request: Request) -> Paper:
    given = request.query_params.get("paper", "a4")
    if given not in PAPERS:
        raise BadInput("paper", f"'{given}' is no size of paper", f"one of: {', '.join(PAPERS)}")
    return PAPERS[given]


@router.get("/pictures")
def pictures(request: Request, desk: TheDesk) -> Response:
    """Temperature windows, cures and waits, and the layers of a chain."""

    def answer() -> Response:
        asked, rank = asked_in(request, desk), rank_in(request)
        chain = asked.chain(rank)
        found = [
            draw(asked.plan, chain) for draw in (stack_picture, temperature_picture, timeline_picture, layers_picture)
        ]
        return page(request, "pictures.html", title="Pictures", pictures=found, **head(asked, rank))

    return with_job(request, "Pictures", "how a chain's windows, waits and layers look", answer)


@router.get("/job")
def job_page(request: Request) -> Response:
    """Take the job away as a file, or bring one."""
    query = query_of(job_in(request)) if has_job(request) else ""
    return page(request, "job.html", title="Job file", query=query)


@router.get("/job.toml")
def job_file(request: Request) -> Response:
    """The job in the address as a job file."""
    headers = {"Content-Disposition": 'attachment; filename="job.toml"'}
    return Response(job_toml(job_in(request)), headers=headers, media_type="application/toml; charset=utf-8")


@router.post("/job")
async def bring(form: Written) -> Response:
    """A job file that was brought, as an address. Nothing of it is kept."""
    file: Any = form.get("file")
    content = await file.read() if isinstance(file, UploadFile) or hasattr(file, "read") else b""
    if not content:
        raise BadInput("file", "is empty", "choose a job file (.toml)")
    try:
        data = tomllib.loads(content.decode("utf-8-sig"))
    except UnicodeDecodeError:
        raise BadInput("file", "is not UTF-8 text", "save it as UTF-8") from None
    except (tomllib.TOMLDecodeError, RecursionError) as fault:
        raise BadInput("file", f"is not TOML: {fault}", "mend the line that it names") from None
    return RedirectResponse(f"/?{query_of(job_of(data, 'file'))}", 303)
