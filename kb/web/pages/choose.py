"""The main job: describe the part and its service, see what each answer changes, read the chains and the reasons."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Any
from urllib.parse import parse_qsl

from fastapi import APIRouter, Request
from starlette.responses import Response

from kb.base.errors import TackroomError
from kb.engine.goal import stands_in_chains
from kb.job import read_job
from kb.planning.ask import Asked, preferences
from kb.planning.compare import Comparison, side_of
from kb.planning.demo import jobs
from kb.report.described import described_json
from kb.web.desk import Desk, TheDesk
from kb.web.faults import MATERIAL, of_form
from kb.web.fields import GROUPS, filled, label_of
from kb.web.forms import job_from, query_of
from kb.web.pages.answer import LABELS, answered, free_query, refused_by_kind
from kb.web.pages.common import asked_in
from kb.web.pages.day import with_job
from kb.web.pages.material import taken_for, taken_of
from kb.web.render import page
from kb.web.workers import Heavy

router = APIRouter(route_class=Heavy)


@router.get("/")
def choose(request: Request, desk: TheDesk) -> Response:
    """The form and the answer to what is filled in: the answer first, once there is one."""
    pairs = request.query_params.multi_items()
    given = filled(pairs)
    values: dict[str, Any] = {"groups": GROUPS, "filled": given, "demo": _demo()}
    values["names"] = sorted(e.name for e in desk.known.by_kind["substrate"])
    values["stands"] = sorted(e.name for e in desk.known.entries.values() if stands_in_chains(e))
    values["prefers"] = preferences(desk.known)
    # What is no question of the form stays with the job: the chain that was chosen for it.
    values["kept"] = [(name, value) for name, value in pairs if name.startswith("choose.")]
    found = _answer(pairs, desk)
    typed = given.get(MATERIAL, [""])[-1].strip()
    values |= {"typed": typed, "taken": taken_of(found["asked"].resolved) if found["asked"] else None, "near": []}
    if typed and values["taken"] is None:
        values["taken"] = taken_for(typed, desk.known)
    return page(request, "choose.html", title="Choose", suggest=False, **values, **found)


@router.get("/choose/answer")
def answer(request: Request, desk: TheDesk) -> Response:
    """The answer alone, for the page to put in its place while the form is being filled in."""
    values = _answer(request.query_params.multi_items(), desk)
    # The address of the page keeps step with its form: it can be kept, sent, or loaded again.
    headers = {"HX-Replace-Url": f"/?{values['before']}"} if values["asked"] else {}
    return page(request, "answer.html", headers=headers, **values)


@router.get("/refused")
def refused(request: Request, desk: TheDesk) -> Response:
    """Every item that no chain of the job could use, by kind, with the first reason."""

    def found() -> Response:
        asked = asked_in(request, desk)
        kinds = refused_by_kind(asked.plan.excluded)
        back = query_of(asked.job, prefer=asked.prefer)
        return page(request, "refused.html", title="What was refused", refused=kinds, before=back)

    return with_job(request, "What was refused", "what no chain of a job could use, and why", found)


@cache
def _demo() -> list[tuple[str, str]]:
    """Give the jobs of the demo, each with the address that asks for it."""
    return [(name, query_of(read_job(path))) for name, path in jobs().items()]


def _answer(pairs: Sequence[tuple[str, str]], desk: Desk) -> dict[str, Any]:
    """Give what the answer's template needs.

    That is nothing yet, a fault, or a plan, and how it differs from the one before.
    """
    given = dict(pairs)
    empty: dict[str, Any] = {
        "asked": None,
        "fault": None,
        "change": None,
        "before": "",
        "shown_plan": None,
        "described": None,
        "free": "",
    }
    if not any(value.strip() for name, value in pairs if "." in name):
        return empty
    try:
        asked = _asked(pairs, desk)
    except TackroomError as fault:
        return empty | {"fault": of_form(fault, filled(pairs), desk.known), "before": given.get("before", "")}
    return {
        "asked": asked,
        "fault": None,
        "name_of": lambda item: desk.known.entries[item].name if item in desk.known.entries else item,
        "label_of": label_of,
        "labels": LABELS,
        "change": _change(given.get("before", ""), asked, desk),
        "before": (before := query_of(asked.job, prefer=asked.prefer)),
        "before_pairs": parse_qsl(before),
        # A class of materials, and one that was described, have no page of their own.
        "in_catalog": asked.resolved.entry.id in desk.known.entries,
        "shown_plan": answered(asked, desk.today),
        "free": free_query(asked),
        "described": described_json(asked.plan, asked.resolved) if asked.resolved.how == "described" else None,
    }


def _asked(pairs: Sequence[tuple[str, str]], desk: Desk) -> Asked:
    prefer = dict(pairs).get("prefer") or None
    return desk.asked(job_from(pairs), 3, prefer, "form")


def _change(before: str, now: Asked, desk: Desk) -> Comparison | None:
    """Tell what is different from the answer that stood there before.

    None at first, or where nothing was asked anew.
    """
    if not before:
        return None
    try:
        old = _asked(parse_qsl(before), desk)
    except TackroomError:
        return None
    if old.plan is now.plan:
        return None
    return Comparison(side_of(old, "before"), side_of(now, "now"))
