"""Do things go together? Two or more of them by name, or a whole grid of kinds with a reason in each cell."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from kb.base.errors import BadInput, TackroomError
from kb.base.vocabulary import EXPOSURES
from kb.engine.check import CHECKED_KINDS, grid_of, thing, unseen
from kb.report import check as report
from kb.report.pictures.grids import matrix_picture
from kb.web.desk import Desk, TheDesk
from kb.web.forms import pairs_of, query_of
from kb.web.pages.answer import said
from kb.web.pages.common import facts_in, has_job, job_in
from kb.web.problems import problem_of
from kb.web.render import page
from kb.web.turns import together

router = APIRouter()
#: So many things may be asked about at once; a chain holds no more.
MOST = 8
#: A larger grid takes longer than a reader waits; `tackroom matrix` writes any.
MOST_CELLS = 2500


@router.get("/pair")
def pair(request: Request, desk: TheDesk) -> Response:
    """The verdict on the things that are named, with the job in the address where there is one."""
    words = [w.strip() for w in request.query_params.getlist("thing") if w.strip()]
    values: dict[str, Any] = {"words": words[:MOST], "checked": None, "fault": "", "job": None, "status": 200}
    try:
        values |= _job(request)
        if words:
            values |= _verdict(words, request, desk)
    except TackroomError as fault:
        # The form stays filled in: one word of it is to be mended.
        problem = problem_of(fault)
        values |= {"fault": problem.detail, "status": problem.status}
    names = sorted({e.name for kind in CHECKED_KINDS for e in desk.known.by_kind[kind]} | set(EXPOSURES))
    return page(request, "pair.html", title="Pairs", names=names, kinds=_kinds(), **values)


def _verdict(words: list[str], request: Request, desk: Desk) -> dict[str, Any]:
    """What the rules say of the things together, and what would do instead."""
    if len(words) == 1:
        raise BadInput("thing", "one alone has nothing to be checked with", "name two or more")
    if len(words) > MOST:
        raise BadInput("thing", f"{len(words)} things are too many at once", f"name at most {MOST}")
    known, facts = desk.known, facts_in(request, desk)
    things = [thing(word, known, "thing") for word in words]
    checked, ways = together(known, things, facts, "thing")
    return {
        "checked": checked,
        # "Compatible" because no rule looks at such things at all is no verdict.
        "dark": not checked.findings and unseen(known, things, facts),
        "said": [(said(f), f.rule.instead) for f in checked.findings],
        "ways_left_out": ways is None,
        "ways": [report.remedy_words(r) for r in ways or ()],
        "classes": [report.class_words(name, members) for name, members in checked.classes.items()],
    }


def _job(request: Request) -> dict[str, Any]:
    """The job in the address: itself, its fields for a form, and its query."""
    if not has_job(request):
        return {"job": None, "fields": [], "query": ""}
    job = job_in(request)
    return {"job": job, "fields": pairs_of(job), "query": query_of(job)}


@router.get("/matrix")
def matrix(request: Request, desk: TheDesk) -> Response:
    """Every item of one kind with every item of another; family by family where that is too much for a page."""
    given = {name: request.query_params.get(name, "") for name in ("rows", "columns", "family")}
    count = {kind: len(desk.known.by_kind[kind]) for kind in CHECKED_KINDS} | {"exposure": len(EXPOSURES)}
    for name in ("rows", "columns"):
        if given[name] not in count:
            raise BadInput(name, f"'{given[name]}' is no kind", f"one of: {', '.join(count)}")
    families = sorted({e.family for e in desk.known.by_kind.get(given["rows"], ())})
    whole = count[given["rows"]] * count[given["columns"]] <= MOST_CELLS
    family = given["family"] or ("" if whole or not families else families[0])
    grid = grid_of(desk.known, given["rows"], given["columns"], facts_in(request, desk), family)
    if request.query_params.get("form") == "csv":
        headers = {"Content-Disposition": f'attachment; filename="{given["rows"]}-by-{given["columns"]}.csv"'}
        return Response(report.grid_csv(grid), headers=headers, media_type="text/csv; charset=utf-8")
    rows = [
        (row, [(one.verdict, report.reason(one)) for one in line])
        for row, line in zip(grid.rows, grid.cells, strict=True)
    ]
    values: dict[str, Any] = {"grid": grid, "rows": rows, "kinds": _kinds(), "whole": whole, **_job(request)}
    values["picture"] = matrix_picture(grid)
    return page(request, "matrix.html", title="Grid", family=family, families=families, **values)


def _kinds() -> list[str]:
    return [*CHECKED_KINDS, "exposure"]
