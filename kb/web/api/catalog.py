"""What is known: `identify`, `items`, `rules`, `sources`, `calc` and `matrix`."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Body, Query

from kb import calc
from kb.base.errors import BadInput, nearest
from kb.base.vocabulary import EXPOSURES, KINDS
from kb.engine.check import EXPOSURE, GRID_KINDS, PRESET, grid_of
from kb.materials import resolve
from kb.materials.beside import anything, other_kinds
from kb.planning.ask import setting_for
from kb.report.calculations import list_json
from kb.report.items import item_json, items_json, matches_json, select
from kb.report.matrix import grid_json
from kb.web.api import documents as d
from kb.web.api.bodies import EXAMPLE, JobTable, Table, job_in
from kb.web.api.common import ALWAYS, WITH_BODY, Json, named_in_path, problems
from kb.web.desk import Desk, TheDesk
from kb.web.workers import HeavyAnyway

router = APIRouter(responses=ALWAYS, tags=["catalog"])
heavy = APIRouter(route_class=HeavyAnyway, responses=ALWAYS, tags=["catalog"])
NOT_FOUND = problems(s404="There is none of that name.")
Word = Annotated[str | None, Query(max_length=100)]
GridKind = Annotated[str, Query(max_length=40)]
#: A pair without a job takes about 0.1 ms and the largest grid a few seconds; with a job each takes ten times that.
MOST_PAIRS_FOR_JOB = 6_500


@router.get("/identify", responses=d.answer(d.IDENTIFY))
def identify(words: Annotated[str, Query(max_length=200)], desk: TheDesk) -> Json:
    """What words may mean, best first: a part's material, or else anything else; none where nothing is near."""
    matches, found = anything(words, desk.known)
    return Json(matches_json(words, matches, found, other_kinds(words, matches, desk.known)))


@router.get("/items", responses=d.answer(d.ITEM_LIST))
def items(desk: TheDesk, kind: Word = None, family: Word = None) -> Json:
    """The catalog's items, of one kind or family, or all."""
    return Json(items_json(select(desk.known, kind, family)))


@router.get("/items/{item:path}", responses=d.answer(d.ITEM, d.ITEM_LIST) | NOT_FOUND)
def show(item: str, desk: TheDesk) -> Json:
    """Everything that is known of an item; of a class of materials ("brass"), its members."""
    known = desk.known
    with named_in_path():
        found = resolve.item_or_class(item, known, "item", KINDS)
    members = [known.entry(member) for member in found.members]
    return Json(items_json(members) if members else item_json(found.entry, known))


@router.get("/rules", responses=d.answer(d.RULES))
def rules(desk: TheDesk) -> Json:
    """Every rule with its verdict, its basis and the cases that prove it."""
    return Json(desk.rules())


@router.get("/rules/{rule}", responses=d.answer(d.ONE_RULE) | NOT_FOUND)
def one_rule(rule: str, desk: TheDesk) -> Json:
    """One rule, and the sources that it cites, whole."""
    known = desk.known
    found = {row["id"]: row for row in desk.rules()["rules"]}
    with named_in_path():
        if rule not in found:
            raise BadInput(rule, "is no rule", nearest(rule, found) or "see GET /api/rules")
    sources = {i: dict(known.sources[i]) for i in found[rule]["sources"] if i in known.sources}
    return Json({"schema": "tackroom.rule/1", "rule": found[rule], "sources": sources})


@router.get("/sources", responses=d.answer(d.SOURCES))
def sources(desk: TheDesk) -> Json:
    """Every source that the catalog or a rule may cite."""
    known = desk.known.sources
    return Json({"schema": "tackroom.sources/1", "sources": {name: dict(known[name]) for name in sorted(known)}})


@router.get("/calc", responses=d.answer(d.CALCULATIONS))
def calculations() -> Json:
    """The named calculations, with inputs, results and source."""
    return Json(list_json())


@router.post("/calc/{name}", responses=WITH_BODY | d.answer(d.CALCULATION) | NOT_FOUND)
def calculate(
    name: str,
    body: Annotated[Table, Body(description="The inputs by name.", examples=[{"air_temperature_c": 20}])],
) -> Json:
    """One calculation, with its inputs and source shown."""
    with named_in_path():
        calc.describe(name)
    return Json({"schema": "tackroom.calc/1", **calc.run(name, body)})


@heavy.get("/matrix", responses=d.answer(d.MATRIX))
def matrix(desk: TheDesk, rows: GridKind = PRESET[0], columns: GridKind = PRESET[1]) -> Json:
    """Every item of one kind checked with every item of another; a kind may be "exposure". Adhesive by coating."""
    return Json(grid_json(grid_of(desk.engine, rows, columns)))


@heavy.post("/matrix", responses=WITH_BODY | d.answer(d.MATRIX))
def matrix_for(
    body: Annotated[JobTable, Body(description="The job to check them for.", examples=[EXAMPLE])],
    desk: TheDesk,
    rows: GridKind = PRESET[0],
    columns: GridKind = PRESET[1],
) -> Json:
    """The same for a job. A grid of too many pairs is refused: for a job each pair takes ten times as long."""
    counts = [_count(kind, desk) for kind in (rows, columns)]
    if counts[0] * counts[1] > MOST_PAIRS_FOR_JOB:
        said = f"{rows} by {columns} are {counts[0] * counts[1]} pairs; for a job {MOST_PAIRS_FOR_JOB} are the most"
        raise BadInput("matrix", said, "take smaller kinds, leave out the job, or use the command")
    setting = setting_for(job_in(body), desk.known, "body: part.substrate")
    return Json(grid_json(grid_of(desk.engine, rows, columns, setting)))


def _count(kind: str, desk: Desk) -> int:
    if kind == EXPOSURE:
        return len(EXPOSURES)
    return len(desk.known.by_kind.get(kind, ())) if kind in GRID_KINDS else 0


router.include_router(heavy)
