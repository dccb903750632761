"""The bench run: one step a screen, from the one schedule; the device keeps what happens until the server has it."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Annotated, Any
from urllib.parse import unquote

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from kb.base.errors import BadInput, TackroomError
from kb.base.files import validated
from kb.base.vocabulary import PROOF_STAGE
from kb.engine.chain import Chain
from kb.job import Bench
from kb.planning.ask import Asked
from kb.planning.procedure import Step, procedure
from kb.quantities.bench import fitness
from kb.quantities.moves import READINGS
from kb.quantities.timeline import Timeline
from kb.report.form import named
from kb.rules.words import duration, message, value_words
from kb.stock.flags import Judged, first_out, judged
from kb.stock.fold import Shelf
from kb.stock.receiving import Barred
from kb.stock.scan import lot_named
from kb.web.api.common import Json
from kb.web.desk import Desk, TheDesk
from kb.web.once import sealed
from kb.web.pages.answer import harms_of
from kb.web.pages.common import asked_in, rank_in
from kb.web.pages.day import head, with_job
from kb.web.problems import Problem, problem_of
from kb.web.reckoning import estimated, scheduled
from kb.web.render import page
from kb.web.session import HEADER, new_word, same, token_of
from kb.web.workers import Heavy
from kb.work import run as runs
from kb.work.rounds import Task, tasks
from kb.work.walk import patience

router = APIRouter(route_class=Heavy)
#: More gauges than this are no run of one bench; a batch takes several.
MOST_GAUGES = 48


@router.get("/bench-run")
def bench_run(request: Request, desk: TheDesk) -> Response:
    """The run of some gauges of the job, step by step; without scripts the list of steps, and the way to the sheet."""

    def answer() -> Response:
        asked, rank = asked_in(request, desk), rank_in(request)
        chain = asked.chain(rank)
        gauges = _gauges(request, asked)
        found = _schedule(asked, chain, gauges, desk)
        steps = procedure(asked.plan, chain)
        run = request.query_params.get("run", "").strip()[:60]
        data = {
            "run": run or f"run-{new_word()[:12]}",
            "job": asked.job.job.name,
            "query": request.url.query,
            "first": runs.first_free(desk.ledger(), asked.job.job.name),
            "who": desk.who,
            "steps": list(_steps(chain, steps, found)),
            "tasks": [_task(task) for task in tasks(found, steps)],
            "gauges_per_part": asked.job.batch.gauges_per_board,
            "patience_s": patience().total_seconds(),
            "lots": _lots(steps, desk),
            "events": runs.happened(desk.ledger(), run) if run else [],
        }
        values: dict[str, Any] = {"data": data, "steps": steps, "gauges": gauges, "most": MOST_GAUGES}
        values["hazards"] = list(harms_of(asked, chain))
        fields = [pair for pair in request.query_params.multi_items() if pair[0] not in ("gauges", "run")]
        return page(request, "bench_run.html", title="Bench run", fields=fields, **values, **head(asked, rank))

    return with_job(request, "Bench run", "one step after the other, with timers and lots", answer)


@router.get("/bench-run/lot")
def lot(request: Request, desk: TheDesk) -> Json:
    """Whether the lot that was typed or scanned may be used for an item today."""
    item, words = (request.query_params.get(name, "").strip() for name in ("item", "code"))
    try:
        mark = lot_named(_from_label(words), desk.day)
        known = desk.ledger().lot(mark)
    except TackroomError as fault:
        return Json({"lot": "", "fit": False, "said": str(fault)})
    one = judged(Shelf({mark: known}), desk.items().facts, desk.day)[0]
    if known.item != item:
        return Json({"lot": mark, "fit": False, "said": f"{mark} is {desk.items().name(known.item)}: the wrong thing"})
    return Json({"lot": mark, "fit": one.life.usable, "said": _said(one)})


@router.get("/bench-run/room")
def room(request: Request, desk: TheDesk) -> Json:
    """Whether to bond the run's chain in the room as it was just measured."""
    asked = asked_in(request, desk)
    measured = {name: given for name in READINGS if (given := request.query_params.get(name))}
    here = validated(Bench, {**asked.job.bench.model_dump(exclude_unset=True), **measured}, "bench")
    job = asked.job.model_copy(update={"bench": here})
    found = fitness(asked.engine, job, asked.resolved.entry, asked.chain(rank_in(request)))
    told = [message(f) for f in found.findings] + [r.message for r in found.remarks]
    return Json({"verdict": found.verdict, "said": told, "changes": list(found.changes)})


async def _sent(request: Request, desk: TheDesk) -> dict[str, Any]:
    """Tell what a device sends, let through only with its session's token."""
    if not same(request.headers.get(HEADER), token_of(request.state.session, desk.settings.secret)):
        raise Problem(403, "session", HEADER, "is missing or another session's", "load the page again; nothing is lost")
    try:
        body = await request.json()
    except ValueError:
        body = None
    if not isinstance(body, dict) or not isinstance(body.get("run"), str) or not isinstance(body.get("events"), list):
        raise Problem(422, "bad-input", "body", "is no run with its events")
    return body


@router.post("/bench-run")
def happened(request: Request, desk: TheDesk, sent: Annotated[dict[str, Any], Depends(_sent)]) -> Json:
    """Keep what happened, each thing once; and where the run has ended, write its record, once."""
    asked, rank = asked_in(request, desk), rank_in(request)
    job, run = asked.job.job.name, sent["run"].strip()
    if job == type(asked.job.job)().name:
        raise BadInput("job.name", "is missing", "name the job: its installations are found again by it")
    kept = runs.keep(desk.ledger(), job, run, sent["events"], desk.day)
    events = runs.happened(desk.ledger(), run)
    answer: dict[str, Any] = {"kept": kept, "events": events}
    if any(event["kind"] == "end" for event in events):
        try:
            answer["record"] = _recorded(run, asked, asked.chain(rank), desk)
        except Barred as fault:
            answer |= {"refused": f"{fault.where}: {fault.what.partition('; ')[0]}", "barred": True}
        except TackroomError as fault:
            answer["refused"] = problem_of(fault).detail
    return Json(answer)


def _recorded(run: str, asked: Asked, chain: Chain, desk: Desk) -> dict[str, Any]:
    steps, work = procedure(asked.plan, chain), estimated(asked, chain, desk)[0]
    name, facts = asked.job.job.name, desk.items().facts
    once = sealed("", f"run {run}", run).once(lambda bodies: json.dumps(bodies[0]["id"]))
    document = runs.record(desk.ledger(), run, name, steps, chain, work, facts, desk.day, once)
    return {"id": document["id"], "installations": document["installations"]}


def _gauges(request: Request, asked: Asked) -> int:
    given = request.query_params.get("gauges", "").strip()
    batch = asked.job.batch
    usual = min(batch.boards * batch.gauges_per_board, batch.gauges_per_board, MOST_GAUGES)
    if given and (not given.isdecimal() or not 1 <= int(given) <= MOST_GAUGES):
        raise BadInput("gauges", f"'{given}' is no number of gauges for a run", f"1 to {MOST_GAUGES}")
    return int(given) if given else usual


def _schedule(asked: Asked, chain: Chain, gauges: int, desk: Desk) -> Timeline:
    work = estimated(asked, chain, desk)[0]
    return scheduled(replace(work, installations=replace(work.installations, attempts=gauges)))


def _task(task: Task) -> dict[str, Any]:
    return {name: list(value) if isinstance(value, tuple) else value for name, value in task._asdict().items()}


def _steps(chain: Chain, steps: Sequence[Step], found: Timeline) -> Iterator[dict[str, Any]]:
    """Give the steps for the screen: what to do, what must be and never be, and what is asked at each."""
    names = {e.id: e.name for o in chain.picks if (e := o.entry) is not None}
    pots = {mix.entry.id: mix.pot_life_min for mix in found.mixes if mix.pot_life_min}
    first_of, decided = set[str](), False
    for step in steps:
        first = bool(step.item) and step.item not in first_of
        first_of |= {step.item} if step.item else set()
        decides = not decided and step.stage == "mount"
        decided = decided or decides
        limit = step.limit
        yield {
            "stage": value_words(step.stage),
            "do": step.do,
            "must": list(step.must),
            "never": list(step.never),
            "because": step.because,
            "wait_s": round(step.wait_s),
            "wait": duration(step.wait_s / 60),
            "wait_for": step.wait_for,
            "item": step.item or "",
            "name": names.get(step.item or "", step.item or ""),
            "at_once": step.at_once,
            "asks_lot": first,
            "asks_room": decides,
            "pot_min": pots.get(step.item or "") if first else None,
            "proof": step.stage == PROOF_STAGE,
            "limit": limit
            and {
                "quantity": limit["quantity"],
                "label": named(limit["quantity"], limit["unit"]),
                "unit": limit["unit"],
                "at_least": limit["at_least"],
                "at_most": limit["at_most"],
            },
        }


def _lots(steps: Sequence[Step], desk: Desk) -> dict[str, list[dict[str, Any]]]:
    """List the lots of each item of the run as they are today, those to be used first on top.

    The page keeps them for when the network drops.
    """
    shelf, wanted = desk.ledger().shelf(), {step.item for step in steps if step.item}
    lots = {mark: lot for mark, lot in shelf.lots.items() if lot.item in wanted and lot.quantity}
    found = judged(shelf._replace(lots=lots), desk.items().facts, desk.day)
    usable = first_out(found)
    ordered = [*usable, *(one for one in found if one not in usable)]
    by_item: dict[str, list[dict[str, Any]]] = {}
    for one in ordered:
        row = {"lot": one.lot.lot, "fit": one.life.usable, "said": _said(one)}
        by_item.setdefault(one.lot.item, []).append(row)
    return by_item


def _said(one: Judged) -> str:
    if one.life.usable:
        return f"usable until {one.life.usable_until or 'a day that is not known'}"
    return f"{one.life.state.replace('-', ' ')}: {one.life.reason}"


def _from_label(words: str) -> str:
    """Give the lot's name where a label's address was scanned; else what was typed."""
    _, found, mark = words.partition("/shelf/lots/")
    return unquote(mark.partition("?")[0]) if found else words
