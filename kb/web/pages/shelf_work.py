"""The shelf and the work: what to take for a job, what was made of it, and which lots went where."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from starlette.datastructures import UploadFile
from starlette.responses import Response

from kb.base.errors import BadInput, TackroomError
from kb.job import Bench
from kb.planning.procedure import procedure
from kb.quantities.estimate import Estimate
from kb.report.form import named
from kb.report.pick import told
from kb.report.trace import record_text, signed_words, trace_text
from kb.stock.amounts import text
from kb.stock.flags import Judged, judged
from kb.stock.shelf_life import last_moment
from kb.stock.stores import Document
from kb.web.desk import Desk, TheDesk
from kb.web.fields import label_of
from kb.web.once import Seal
from kb.web.pages.common import Written, asked_in, on_in, rank_in
from kb.web.pages.day import head, with_job
from kb.web.pages.shelf_forms import ahead_in, at_of, lot_address, once, refusal, said, who_of
from kb.web.reckoning import estimated, picked
from kb.web.render import page
from kb.web.workers import Heavy
from kb.work import recording
from kb.work.installations import learned_yield
from kb.work.recording import asked_record, limits_of
from kb.work.reserving import own_reservation
from kb.work.reserving import reserve as keep
from kb.work.signing import sign
from kb.work.trace import Sought
from kb.work.trace import trace as find

router = APIRouter(route_class=Heavy)
#: A table of installations that is larger is for the command.
MOST_BYTES = 500_000
MOST_LINES = 1000
#: What a trace can be asked by.
TRACED = ("of", "batch", "part", "who", "since", "until")


# -- what to take


@router.get("/pick")
def pick_page(request: Request, desk: TheDesk) -> Response:
    """What to take from which lot, first expired first out."""
    return with_job(request, "Pick", "what to take from which lot", lambda: _pick_page(request, desk))


@router.post("/pick")
def reserve(request: Request, desk: TheDesk, form: Written) -> Response:
    """Keep what is picked for the job, or let it go."""
    return once(request, form, desk, lambda seal: _reserved(request, desk, form, seal))


def _reserved(request: Request, desk: Desk, form: Mapping[str, Any], seal: Seal) -> str:
    asked, rank = asked_in(request, desk), rank_in(request)
    lets_go = said(form, "event") == "release"
    draws = [] if lets_go else picked(asked, asked.chain(rank), desk.day_of(asked.job, on_in(request)), desk).draws
    led_to, head = f"/pick?{request.url.query}", (at_of(form, desk), who_of(form, desk), desk.day)
    keep(desk.ledger(), asked.job.job.name, draws, *head, seal.once(lambda _: led_to))
    return led_to


def _pick_page(request: Request, desk: Desk) -> Response:
    asked, rank = asked_in(request, desk), rank_in(request)
    day, name = desk.day_of(asked.job, on_in(request)), asked.job.job.name
    own = own_reservation(desk.ledger(), name)
    values: dict[str, Any] = {
        "found": picked(asked, asked.chain(rank), day, desk),
        "own": [(lot, f"{text(amount)} {unit}") for lot, (amount, unit) in own.items()],
        "name_of": desk.items().name,
        "amount": told,
        "address_of": lot_address,
        "again": request.url.query,
        "fields": [pair for pair in request.query_params.multi_items() if pair[0] != "on"],
    }
    return page(request, "record_pick.html", title="Pick", **values, **head(asked, rank))


# -- what was made


@dataclass(frozen=True, slots=True)
class Taken:
    """One item of a chain in the form that records: its lots, the one to be used first on top."""

    item: str
    name: str
    lots: list[Judged]


@router.get("/record")
def record_page(request: Request, desk: TheDesk) -> Response:
    """The form that records installations of a chain."""
    what = "what was made, and from which lots"
    return with_job(request, "Record", what, lambda: _record_page(request, desk))


@router.post("/record")
def made(request: Request, desk: TheDesk, form: Written) -> Response:
    """Record installations, or with `check` only say what would be recorded."""
    try:
        if said(form, "check"):
            wanted = _wanted(request, desk, form)
            document = recording.rehearse(desk.ledger(), wanted, desk.day, ahead_in(form))
            return _record_page(request, desk, form, shown=_told(document, desk, request).splitlines())
        return once(request, form, desk, lambda seal: _recorded(request, desk, form, seal))
    except TackroomError as fault:
        return _record_page(request, desk, form, **refusal(fault))


def _recorded(request: Request, desk: Desk, form: Mapping[str, Any], seal: Seal) -> str:
    def led_to(recorded: Sequence[Document]) -> str:
        return f"/trace?{urlencode({'of': recorded[0]['job'], 'done': recorded[0]['id']})}"

    wanted = _wanted(request, desk, form)
    return led_to([recording.record(desk.ledger(), wanted, desk.day, ahead_in(form), seal.once(led_to))])


def _wanted(request: Request, desk: Desk, form: Mapping[str, Any]) -> dict[str, Any]:
    """Give the record that the form asks for."""
    asked, rank = asked_in(request, desk), rank_in(request)
    estimate, file = estimated(asked, asked.chain(rank), desk)[0], form.get("table")
    table = None
    if isinstance(file, UploadFile) and file.filename:
        table = (file.file.read(MOST_BYTES + 1), file.filename.replace("\\", "/").rpartition("/")[2][:100])
        if len(table[0]) > MOST_BYTES:
            raise BadInput("table", f"has more than {MOST_BYTES // 1000} kB", "split it, or use `tackroom record`")
    return asked_record(
        plan=asked.plan,
        chain=asked.chain(rank),
        estimate=estimate,
        ledger=desk.ledger(),
        facts_of=desk.items().facts,
        table=table,
        said={name: said(form, name) for name in ("installation", "part", "outcome", "photo", "note")},
        readings=_named(form, "reading."),
        room=_named(form, "bench."),
        lots=[*_lots(form), said(form, "lots")],
        head={
            "at": at_of(form, desk),
            "who": who_of(form, desk),
            "reason": said(form, "reason"),
            "again": bool(said(form, "again")),
        },
        today=desk.day,
        ahead=ahead_in(form),
        anyway=bool(said(form, "anyway")),
    )


def _named(form: Mapping[str, Any], prefix: str) -> list[str]:
    """Values by name, as the command takes them; those that say nothing are left out."""
    return [f"{name.removeprefix(prefix)}={said(form, name)}" for name in form if _filled(form, name, prefix)]


def _filled(form: Mapping[str, Any], name: str, prefix: str) -> bool:
    return name.startswith(prefix) and said(form, name) != ""


def _lots(form: Mapping[str, Any]) -> list[str]:
    """Give the lots chosen item by item, each with the amount where one is given."""
    found = []
    for name in form:
        if _filled(form, name, "lot."):
            amount = said(form, f"amount.{name.removeprefix('lot.')}")
            found.append(said(form, name) + (f"={amount}" if amount else ""))
    return found


def _record_page(
    request: Request, desk: Desk, form: Mapping[str, Any] | None = None, status: int = 200, **more: Any
) -> Response:
    asked, rank = asked_in(request, desk), rank_in(request)
    chain = asked.chain(rank)
    values: dict[str, Any] = {
        "taken": _taken(estimated(asked, asked.chain(rank), desk)[0], desk),
        "limits": limits_of(procedure(asked.plan, chain)),
        "bench": [(f"bench.{name}", label_of(f"bench.{name}")) for name in Bench.model_fields],
        "typed": {name: said(form, name) for name in form} if form else {},
        "again": request.url.query,
        "amount": text,
        "named": named,
        "fault": [],
        "shown": [],
    }
    return page(request, "record.html", status=status, title="Record", **(values | more), **head(asked, rank))


def _taken(estimate: Estimate, desk: Desk) -> list[Taken]:
    """Tell what an installation takes, with the lots of each item that aren't empty."""
    shelf, items = desk.ledger().shelf(), desk.items()
    wanted = dict.fromkeys(line.entry.id for line in estimate.lines)
    lots = {mark: lot for mark, lot in shelf.lots.items() if lot.item in wanted and lot.quantity}
    found = judged(shelf._replace(lots=lots), items.facts, desk.today.isoformat())
    found.sort(key=lambda one: (not one.life.usable, last_moment(one.life.usable_until), one.lot.lot))
    return [Taken(item, items.name(item), [one for one in found if one.lot.item == item]) for item in wanted]


def _told(document: Mapping[str, Any], desk: Desk, request: Request) -> str:
    """Tell what a record says, as the command says it."""
    expected = asked_in(request, desk).job.batch.expected_yield
    records = [*desk.ledger().documents("work"), *([] if "id" in document else [dict(document)])]
    return record_text(dict(document), learned_yield(records, document["chain"], expected))


# -- who approves it


@router.post("/trace")
def signed(request: Request, desk: TheDesk, form: Written) -> Response:
    """Put a signature under a record; what is refused is said above the records, where it can be put right."""
    try:
        return once(request, form, desk, lambda seal: _signed(desk, form, seal))
    except TackroomError as fault:
        return _trace_page(request, desk, dict.fromkeys(TRACED, "") | {"of": said(form, "of")}, fault)


def _signed(desk: Desk, form: Mapping[str, Any], seal: Seal) -> str:
    number, verdict = said(form, "record"), said(form, "verdict")
    if not number.isdecimal() or len(number) > 12:
        raise BadInput("record", f"'{number}' is no number of a record", "load the page again")
    led_to = f"/trace?{urlencode({'of': said(form, 'of')})}"
    head = (who_of(form, desk), at_of(form, desk), desk.day, said(form, "reason"))
    sign(desk.ledger(), int(number), verdict, *head, seal.once(lambda _: led_to))
    return led_to


# -- which lots went where


@router.get("/trace")
def trace(request: Request, desk: TheDesk) -> Response:
    """Which parts a lot went on, with what to call back; or which lots a job, a part or some days were made from."""
    return _trace_page(request, desk, {name: request.query_params.get(name, "").strip() for name in TRACED})


def _trace_page(
    request: Request, desk: Desk, asked: Mapping[str, str], refused: TackroomError | None = None
) -> Response:
    values: dict[str, Any] = {"asked": asked, "found": None, "fault": [], "status": 200, "lines": [], "done": ""}
    values["signed_words"] = signed_words
    if any(asked.values()):
        try:
            values |= _traced(asked, request, desk)
        except TackroomError as fault:
            values |= refusal(fault)
    if refused is not None:
        values |= refusal(refused)
    return page(request, "record_trace.html", title="Trace", **values)


def _traced(asked: Mapping[str, str], request: Request, desk: Desk) -> dict[str, Any]:
    since, until = (desk.moment(asked[name], name) if asked[name] else "" for name in ("since", "until"))
    sought = Sought(asked["of"], False, asked["batch"], asked["part"], asked["who"], since, until)
    found, items = find(desk.ledger(), sought), desk.items()
    names = {one.item: items.name(one.item) for one in found.lots}
    number = request.query_params.get("done")
    records = desk.ledger().documents("work") if number else []
    done = next((one for one in records if str(one["id"]) == number and one["job"] == asked["of"]), None)
    return {
        "found": found,
        # The lots stand in a table of their own.
        "lines": trace_text(replace(found, lots=()), names).splitlines()[:MOST_LINES],
        "names": names,
        "address_of": lot_address,
        "done": "" if done is None else f"Record {done['id']}: {len(done['installations'])} installations.",
    }
