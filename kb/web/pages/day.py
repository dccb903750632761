"""The day of a chain: what to bring, whether the room will do, and who does what when."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from fastapi import APIRouter, Request
from markupsafe import Markup
from starlette.responses import Response

from kb.base.errors import BadInput
from kb.planning.ask import Asked
from kb.quantities.bench import fitness, ordinary
from kb.quantities.moves import READINGS
from kb.quantities.timeline import Timeline
from kb.report.bench import bench_json, headline
from kb.report.costs import costs_text
from kb.report.estimate import estimate_json
from kb.report.first import bond_words
from kb.report.pictures.drawing import PHONE
from kb.report.timeline import WIDE, timeline_json, timeline_svg, words
from kb.web.desk import TheDesk
from kb.web.fields import GROUPS, label_of
from kb.web.forms import query_of
from kb.web.pages.answer import said
from kb.web.pages.common import asked_in, has_job, job_in, rank_in
from kb.web.pages.mending import mended
from kb.web.reckoning import costed, estimated, scheduled
from kb.web.render import page
from kb.web.workers import Heavy

router = APIRouter(route_class=Heavy)
#: More rows than this make no table; the command gives them all.
MOST_ROWS = 400


def with_job(request: Request, title: str, what: str, answer: Callable[[], Response]) -> Response:
    """Give `answer` where the address holds a job, with what is wrong in it asked for again; else the way to one."""
    if has_job(request):
        return mended(request, title, answer)
    return page(request, "no_job.html", title=title, what=what)


def head(asked: Asked, rank: int) -> dict[str, Any]:
    """Tell what every page about one chain shows at its top."""
    chain = asked.chain(rank)
    return {
        "job_name": asked.job.job.name,
        "part": asked.resolved.entry,
        "chain": chain,
        "bond": bond_words(chain),
        "chain_names": " + ".join(o.entry.name for o in chain.picks if o.entry is not None),
        "back": query_of(asked.job, prefer=asked.prefer),
        "query": query_of(asked.job, prefer=asked.prefer, chain=rank),
    }


@router.get("/amounts")
def amounts(request: Request, desk: TheDesk) -> Response:
    """Attempts, amounts and packs, mixes, the room's air, and waste."""

    def answer() -> Response:
        asked, rank = asked_in(request, desk), rank_in(request)
        found, costs, _ = costed(asked, asked.chain(rank), desk)
        document = estimate_json(found)
        names = {e.id: e.name for e in desk.known.entries.values()}
        batch = asked.job.batch
        asks = [
            (f"batch.{name}", label_of(f"batch.{name}"), getattr(batch, name))
            for name in ("boards", "gauges_per_board")
        ]
        own = {name for name, _, _ in asks}
        fields = [pair for pair in request.query_params.multi_items() if pair[0] not in own]
        more = {
            "batch": asks,
            "fields": fields,
            "acts": found.acts,
            "cost": costs_text(costs).removeprefix("COST").strip(),
        }
        values = {"found": document, "names": names, **more, **head(asked, rank)}
        return page(request, "amounts.html", title="Amounts", **values)

    return with_job(request, "Amounts", "what the batch takes", answer)


@router.get("/room")
def room(request: Request, desk: TheDesk) -> Response:
    """Whether the work may be done in the room as it is now."""

    def answer() -> Response:
        job, rank = job_in(request), rank_in(request)
        asked = asked_in(request, desk, job=ordinary(job))
        chain = asked.chain(rank)
        here = asked_in(request, desk).ranked(rank)
        found = fitness(asked.engine, job, asked.resolved.entry, chain, _hours(request), here)
        values: dict[str, Any] = {
            "found": found,
            "measured": _measured(request),
            "document": bench_json(found),
            "headline": headline(found),
            "said": [said(f) for f in found.findings],
            "questions": next(g.questions for g in GROUPS if g.title == "The room"),
            "filled": {name: [value] for name, value in request.query_params.multi_items()},
            "fields": request.query_params.multi_items(),
        }
        return page(request, "room.html", title="Room", **values, **head(asked, rank))

    return with_job(request, "Room", "whether the work may be done in the room as it is now", answer)


def _measured(request: Request) -> bool:
    """Tell whether the address holds readings of the room as it is: what a job foresees is none."""
    given = request.query_params
    return bool(given.get("measured")) and all(given.get(f"bench.{name}", "").strip() for name in READINGS)


def _hours(request: Request) -> float | None:
    given = request.query_params.get("activated_h", "").strip()
    if not given:
        return None
    try:
        hours = float(given)
    except ValueError:
        hours = -1.0
    if not 0 <= hours <= 1e6:
        raise BadInput("activated_h", f"'{given}' is no number of hours", "for instance 1.5")
    return hours


@router.get("/timeline")
def schedule(request: Request, desk: TheDesk) -> Response:
    """Who does what when."""

    def answer() -> Response:
        asked, rank = asked_in(request, desk), rank_in(request)
        found = scheduled(estimated(asked, asked.chain(rank), desk)[0])
        document = timeline_json(found, None)
        values = {"words": words(found, None), "rows": document["timeline"][:MOST_ROWS], "wide": _picture(found, WIDE)}
        values["narrow"] = _picture(found, PHONE)
        left_out = len(document["timeline"]) - len(values["rows"])
        return page(request, "timeline.html", title="Schedule", left_out=left_out, **values, **head(asked, rank))

    return with_job(request, "Schedule", "who does what when", answer)


def _picture(found: Timeline, width: int) -> Markup:
    """Give the picture as it is: its template has escaped what it holds."""
    return Markup(timeline_svg(found, None, width))
