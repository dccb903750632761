"""What was made: `records`, `trace`, and what a job keeps for itself on the shelf."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Path, Query
from pydantic import Field

from kb.base.errors import BadInput
from kb.report.pick import pick_json
from kb.report.trace import record_json, trace_json
from kb.stock.event_fields import LARGEST_ID
from kb.stock.stores import Document
from kb.web.acting import acting
from kb.web.api import documents as d
from kb.web.api.bodies import JobTable, Text
from kb.web.api.common import ALWAYS, WITH_BODY, Json, named_in_path, problems
from kb.web.api.events import Head, head_of
from kb.web.api.once import TheWrite
from kb.web.api.work import planned
from kb.web.desk import TheDesk
from kb.web.reckoning import MOST_SCHEDULED, estimated, picked
from kb.web.workers import Heavy
from kb.work import recording, reserving, signing
from kb.work.installations import learned_yield
from kb.work.recording import asked_record, numbered
from kb.work.trace import Sought
from kb.work.trace import trace as find

router = APIRouter(route_class=Heavy, tags=["stock"])
WRITES = WITH_BODY | problems(s409="No chain suits the job, or it would break a rule of the shelf.")
Rank = Annotated[int, Field(ge=1, le=100)]
Numbers = Annotated[dict[Annotated[str, Field(max_length=100)], int | float | Text], Field(max_length=100)]


class Record(Head):
    """Installations of a job that came out alike. `lots`: what was used, each with its amount, or null where the
    estimate reckons it. `again`: recorded before, and looked at again."""

    job: JobTable
    chain: Rank = 1
    installation: Annotated[str, Field(max_length=2000, description="Which: 1, or 1-40,43.")] = "1"
    part: Text = ""
    outcome: Text = ""
    lots: Annotated[
        dict[Annotated[str, Field(min_length=1, max_length=60)], int | float | Text | None], Field(max_length=200)
    ] = Field(default_factory=dict)
    readings: Numbers = Field(default_factory=dict)
    bench: Numbers = Field(default_factory=dict)
    photo: Text = ""
    note: Text = ""
    again: bool = False
    anyway: bool = False


class Reservation(Head):
    """What a job keeps for itself of the shelf; `release` lets it go."""

    job: JobTable
    chain: Rank = 1
    on: Text | None = None
    release: bool = False


@router.post("/records", responses=WRITES | d.answer(d.RECORD))
def record(body: Record, write: TheWrite) -> Json:
    """Keep what was made: outcome, lots, readings; the stock is drawn down, and the chain's yield learned."""
    desk = write.desk
    head = head_of(body, desk) | {"again": body.again}
    ledger = desk.ledger()

    def done() -> Any:
        acting.get().must("installed")
        asked, chain = planned(body.job, desk, body.chain)
        if len(numbered(body.installation)) > MOST_SCHEDULED:
            raise BadInput("installation", f"more than {MOST_SCHEDULED} at once", "record them in parts")
        for mark in body.lots:
            if "," in mark or "=" in mark:
                raise BadInput(f"lots.{mark}", "a lot with a comma or an equals sign in its name can't be recorded so")
        wanted = asked_record(
            plan=asked.plan,
            chain=chain,
            estimate=estimated(asked, chain, desk)[0],
            ledger=ledger,
            facts_of=desk.items().facts,
            table=None,
            said={name: getattr(body, name) for name in ("installation", "part", "outcome", "photo", "note")},
            readings=_said(body.readings),
            room=_said(body.bench),
            lots=[mark if amount is None else f"{mark}={amount}" for mark, amount in body.lots.items()],
            head=head,
            today=desk.day,
            ahead=body.ahead,
            anyway=body.anyway,
        )
        expected = asked.job.batch.expected_yield

        def said(document: Document, dry_run: bool) -> Any:
            records = ledger.documents("work")
            records += [document] if document not in records else []
            return record_json(document, learned_yield(records, wanted["chain"], expected), dry_run)

        if write.dry_run:
            return said(recording.rehearse(ledger, wanted, desk.day, body.ahead), True)
        once = write.kept(lambda bodies: said(bodies[0], False))
        return said(recording.record(ledger, wanted, desk.day, body.ahead, once), False)

    return write.once(done)


@router.post("/reservations", responses=WRITES | d.answer(d.PICK))
def reserve(body: Reservation, write: TheWrite) -> Json:
    """Keep for a job what it is to take from which lot, in place of what it kept before; or let it go."""
    desk = write.desk
    head = head_of(body, desk)

    def done() -> Any:
        asked, chain = planned(body.job, desk, body.chain)
        found = picked(asked, chain, desk.day_of(asked.job, body.on), desk)
        if not write.dry_run:
            draws = () if body.release else found.draws
            once = write.kept(lambda _: pick_json(found))
            name = asked.job.job.name
            reserving.reserve(desk.ledger(), name, draws, head["at"], head["who"], desk.day, once)
        return pick_json(found)

    return write.once(done)


class Signing(Head):
    """What somebody who didn't do the work says of a record. Refused: with a reason."""

    verdict: Literal["approved", "refused"] = "approved"


@router.post("/records/{number}/signatures", responses=WRITES | d.answer(d.SIGNED))
def sign(number: Annotated[int, Path(ge=1, le=LARGEST_ID)], body: Signing, write: TheWrite) -> Json:
    """Sign a record of installations: approved or refused, by another than those who did the work."""
    desk = write.desk
    head = head_of(body, desk)

    def document(bodies: Sequence[Document]) -> Any:
        return {"schema": "tackroom.signed/1", "signed": bodies[0]}

    def done() -> Any:
        acting.get().must("signed")
        wanted = (number, body.verdict, head["who"], head["at"], desk.day, head["reason"])
        if write.dry_run:
            return document([signing.rehearse(desk.ledger(), *wanted)])
        return document([signing.sign(desk.ledger(), *wanted, write.kept(document))])

    return write.once(done)


Words = Annotated[str, Query(max_length=600)]


@router.get("/trace", responses=ALWAYS | d.answer(d.TRACE) | problems(s404="There is no such lot or job."))
def trace(
    desk: TheDesk,
    of: Annotated[str, Query(max_length=600, description="A lot, or a job's name.")] = "",
    part: Words = "",
    who: Words = "",
    batch: Words = "",
    since: Annotated[str | None, Query(max_length=40)] = None,
    until: Annotated[str | None, Query(max_length=40)] = None,
) -> Json:
    """Which parts a lot went on, with what to call back; or which lots a job, a part or some days were made from."""
    first, last = (desk.moment(day, name) if day else "" for day, name in ((since, "since"), (until, "until")))
    sought = Sought(of, False, batch, part, who, first, last)
    if not of and not sought.further:
        raise BadInput("of", "is missing", "name a lot or a job, or a part, a person or days")
    with named_in_path():
        return Json(trace_json(find(desk.ledger(), sought)))


def _said(values: dict[str, Any]) -> list[str]:
    return [f"{name}={value}" for name, value in values.items()]
