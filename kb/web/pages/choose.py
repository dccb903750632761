"""The main job: describe the part and its service, see what each answer changes, read the chains and the reasons."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Any
from urllib.parse import parse_qsl

from fastapi import APIRouter, Request
from starlette.responses import Response

from kb.base.errors import TackroomError
from kb.job import read_job
from kb.planning.ask import Asked, preferences
from kb.planning.compare import Comparison, side_of
from kb.planning.demo import jobs
from kb.report.described import described_json
from kb.web.desk import Desk, TheDesk
from kb.web.fields import GROUPS, filled, label_of
from kb.web.forms import job_from, query_of
from kb.web.pages.answer import LABELS, answered
from kb.web.render import page

router = APIRouter()


@router.get("/")
def choose(request: Request, desk: TheDesk) -> Response:
    """The form, and below it the answer to what is filled in."""
    pairs = request.query_params.multi_items()
    names = sorted(e.name for e in desk.known.by_kind["substrate"])
    values: dict[str, Any] = {"groups": GROUPS, "filled": filled(pairs), "demo": _demo()}
    values["prefers"] = preferences(desk.known)
    return page(request, "choose.html", title="Choose", materials=names, **values, **_answer(pairs, desk))


@router.get("/choose/answer")
def answer(request: Request, desk: TheDesk) -> Response:
    """The answer alone, for the page to put in its place while the form is being filled in."""
    values = _answer(request.query_params.multi_items(), desk)
    # The address of the page keeps step with its form: it can be kept, sent, or loaded again.
    headers = {"HX-Replace-Url": f"/?{values['before']}"} if values["asked"] else {}
    return page(request, "answer.html", headers=headers, **values)


@cache
def _demo() -> list[tuple[str, str]]:
    """The jobs of the demo, each with the address that asks for it."""
    return [(name, query_of(read_job(path))) for name, path in jobs().items()]


def _answer(pairs: Sequence[tuple[str, str]], desk: Desk) -> dict[str, Any]:
    """What the answer's template needs: nothing yet, a fault, or a plan, and how it differs from the one before."""
    given = dict(pairs)
    empty: dict[str, Any] = {
        "asked": None,
        "fault": None,
        "change": None,
        "before": "",
        "shown_plan": None,
        "described": None,
    }
    if not any(value.strip() for name, value in pairs if "." in name):
        return empty
    try:
        asked = _asked(pairs, desk)
    except TackroomError as fault:
        return empty | {"fault": fault, "before": given.get("before", "")}
    return {
        "asked": asked,
        "fault": None,
        "name_of": lambda item: desk.known.entries[item].name if item in desk.known.entries else item,
        "label_of": label_of,
        "labels": LABELS,
        "change": _change(given.get("before", ""), asked, desk),
        "before": query_of(asked.job, prefer=asked.prefer),
        "shown_plan": answered(asked),
        "described": described_json(asked.plan, asked.resolved) if asked.resolved.how == "described" else None,
    }


def _asked(pairs: Sequence[tuple[str, str]], desk: Desk) -> Asked:
    prefer = dict(pairs).get("prefer") or None
    return desk.asked(job_from(pairs), 3, prefer, "form")


def _change(before: str, now: Asked, desk: Desk) -> Comparison | None:
    """What is different from the answer that stood there before; None at first, or where nothing was asked anew."""
    if not before:
        return None
    try:
        old = _asked(parse_qsl(before), desk)
    except TackroomError:
        return None
    if old.plan is now.plan:
        return None
    return Comparison(side_of(old, "before"), side_of(now, "now"))
