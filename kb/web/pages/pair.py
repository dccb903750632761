"""Do things go together? Two or more of them by name, or a whole grid of kinds with a reason in each cell."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from kb.base.errors import BadInput, TackroomError
from kb.base.vocabulary import EXPOSURES
from kb.engine.check import EXPOSURE, GRID_KINDS, PRESET, Answer, Grid, grid_of, question
from kb.knowledge import Knowledge
from kb.report import check as report
from kb.report import matrix as grids
from kb.report.members import member_words, whose_words
from kb.report.pictures.grids import matrix_picture
from kb.web.desk import Desk, TheDesk
from kb.web.forms import pairs_of, query_of
from kb.web.naming import in_names, name_of
from kb.web.pages.answer import said
from kb.web.pages.common import has_job, job_in, setting_in
from kb.web.problems import problem_of
from kb.web.reckoning import judged
from kb.web.render import page
from kb.web.workers import Heavy, HeavyAnyway

router = APIRouter(route_class=Heavy)
grids_router = APIRouter(route_class=HeavyAnyway)
#: So many things may be asked about at once; a chain holds no more.
MOST = 8
#: A larger grid takes longer than a reader waits; `tackroom matrix` writes any.
MOST_CELLS = 3500
#: What may be said of the order of the things: as they stand, or nothing.
IN_ORDER = "then"


@router.get("/pair")
def pair(request: Request, desk: TheDesk) -> Response:
    """The verdict on the things that are named, with the job in the address where there is one."""
    words = [w.strip() for w in request.query_params.getlist("thing") if w.strip()]
    values: dict[str, Any] = {"words": words[:MOST], "checked": None, "fault": "", "job": None, "status": 200}
    values["ordered"] = request.query_params.get("order") == IN_ORDER
    try:
        values |= _job(request)
        if words:
            values |= _verdict(words, request, desk, values["ordered"])
    except TackroomError as fault:
        # The form stays filled in: one word of it is to be mended.
        problem = problem_of(fault)
        values |= {"fault": problem.detail, "status": problem.status}
    return page(request, "pair.html", title="Pairs", names=_names(desk), kinds=GRID_KINDS, preset=PRESET, **values)


def _names(desk: Desk) -> list[str]:
    """Tell what may be typed: every item, the words for classes, and exposures."""
    known = desk.known
    classes = (name for name, *_ in known.tables["asked"]["classes"])
    return sorted({entry.name for entry in known.entries.values()} | {*classes} | {*EXPOSURES})


def _verdict(words: list[str], request: Request, desk: Desk, ordered: bool) -> dict[str, Any]:
    """Tell what the rules say of the things together, and what would do instead."""
    if len(words) == 1:
        raise BadInput("thing", "one alone has nothing to be checked with", "name two or more")
    if len(words) > MOST:
        raise BadInput("thing", f"{len(words)} things are too many at once", f"name at most {MOST}")
    asked = question(words, desk.known, "thing")._replace(ordered=ordered)
    found, ways = judged(desk.engine, asked, setting_in(request, desk), "thing")
    checked = found.checked
    return {
        "checked": checked,
        "verdict_words": report.said_of(found).partition(": ")[2],
        "said": [
            (said(f), f.rule.instead, in_names(whose_words(f, found.members), desk.known))
            for f in report.worst_first(checked.findings)
        ],
        "suits": [said(f) for f in checked.suits],
        "notes": [said(f) for f in report.worst_first(checked.notes)],
        "named": [name_of(item, desk.known) for item in checked.items],
        "unknown": [in_names(report.unknown_words(u), desk.known) for u in report.not_known(checked)],
        "lines": [in_names(line, desk.known) for line in _lines(found)],
        "ways_left_out": ways is None,
        "ways": [in_names(report.remedy_words(r), desk.known) for r in ways or ()],
    }


def _lines(found: Answer) -> Iterator[str]:
    """Tell what the things were taken for, in what order, what they are used for, and which of a class differ."""
    yield from report.readings(found.asked)
    yield from report.order_words(found.checked)
    yield from report.use_words(found.checked.uses)
    yield from member_words(found.members)


def _in_names(grid: Grid, known: Knowledge) -> Iterator[tuple[str, list[grids.Cell]]]:
    """Give the rows of a grid, with names for ids in their reasons."""
    for row, cells in grids.shown_rows(grid):
        told = [cell._replace(reasons=tuple(in_names(why, known) for why in cell.reasons)) for cell in cells]
        yield row, told


def _job(request: Request) -> dict[str, Any]:
    """Give the job in the address: itself, its fields for a form, and its query."""
    if not has_job(request):
        return {"job": None, "fields": [], "query": ""}
    job = job_in(request)
    return {"job": job, "fields": pairs_of(job), "query": query_of(job)}


@grids_router.get("/matrix")
def matrix(request: Request, desk: TheDesk) -> Response:
    """Every item of one kind with every item of another; family by family where that is too much for a page."""
    given = {name: request.query_params.get(name, "") for name in ("rows", "columns", "family")}
    given |= {name: given[name] or usual for name, usual in zip(("rows", "columns"), PRESET, strict=True)}
    count = {kind: len(desk.known.by_kind.get(kind, ())) for kind in GRID_KINDS} | {EXPOSURE: len(EXPOSURES)}
    for name in ("rows", "columns"):
        if given[name] not in count:
            raise BadInput(name, f"'{given[name]}' is no kind", f"one of: {', '.join(count)}")
    families = sorted({e.family for e in desk.known.by_kind.get(given["rows"], ())})
    whole = count[given["rows"]] * count[given["columns"]] <= MOST_CELLS
    family = given["family"] or ("" if whole or not families else families[0])
    grid = grid_of(desk.engine, given["rows"], given["columns"], setting_in(request, desk), family)
    if request.query_params.get("form") == "csv":
        headers = {"Content-Disposition": f'attachment; filename="{given["rows"]}-by-{given["columns"]}.csv"'}
        return Response(grids.grid_csv(grid), headers=headers, media_type="text/csv; charset=utf-8")
    rows, columns = ([name_of(item, desk.known) for item in items] for items in (grid.rows, grid.columns))
    grid = replace(grid, rows=rows, columns=columns)
    values: dict[str, Any] = {
        "grid": grid,
        "rows": list(_in_names(grid, desk.known)),
        "legend": grids.legend(),
        "summary": grids.summary(grid),
        "signs": grids.SIGNS,
        "kinds": GRID_KINDS,
        "preset": PRESET,
        "whole": whole,
        "picture": matrix_picture(grid),
        **_job(request),
    }
    return page(request, "matrix.html", title="Grid", family=family, families=families, **values)


router.include_router(grids_router)
