"""What a job comes to: `plan`, `check`, `explain`, `compare` and `describe`.

The body of each is a job; options are in the query.
"""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Body, Query

from kb.base.errors import BadInput
from kb.base.vocabulary import KINDS
from kb.engine.check import question
from kb.engine.why import explain as find_why
from kb.materials import resolve
from kb.planning.ask import setting_for
from kb.planning.compare import Comparison, changed, ranked, side_of
from kb.planning.describe import Interview
from kb.report.check import check_json
from kb.report.compare import compare_json
from kb.report.interview import describe_json
from kb.report.plan_json import plan_json
from kb.report.why import why_json
from kb.web.api import documents as d
from kb.web.api.bodies import EXAMPLE, JobBody, JobTable, job_in
from kb.web.api.common import WITH_BODY, Json, OnDay, Prefer
from kb.web.desk import TheDesk
from kb.web.reckoning import judged
from kb.web.workers import Lasting

router = APIRouter(route_class=Lasting, responses=WITH_BODY, tags=["answers"])
Top = Annotated[int, Query(ge=1, le=100, description="How many chains.")]
Item = Annotated[str, Query(max_length=200, description="An item by id or name.")]
#: A chain holds no more.
MOST_THINGS = 15
Items = Annotated[
    list[str],
    Query(alias="item", min_length=2, max_length=MOST_THINGS, description="Things by id, name or class."),
]
Ranks = Annotated[list[int] | None, Query(alias="chain", max_length=2, description="Ranks of two chains (1 and 2).")]
Settings = Annotated[
    list[str] | None,
    Query(alias="with", max_length=20, description="FIELD=VALUE: service.temperature_c[1]=80; may be repeated."),
]
Answers = Annotated[
    list[str] | None,
    Query(alias="answer", max_length=50, description="QUESTION=ANSWER; may be repeated. Left out: none is known."),
]
OneOrTwo = Annotated[
    JobTable | Annotated[list[JobTable], Body(min_length=2, max_length=2)],
    Body(description="A job, or two jobs in a list.", examples=[EXAMPLE]),
]


@router.post("/plan", responses=d.answer(d.PLAN))
def plan(
    body: JobBody,
    desk: TheDesk,
    top: Top = 3,
    prefer: Prefer = None,
    stock: Annotated[bool, Query(description="Chains that the shelf can supply come first.")] = False,
    on: OnDay = None,
    hangs_on: Annotated[bool, Query(description="With what the answer hangs on: it takes longest.")] = True,
) -> Json:
    """The ranked chains for a job, with steps, reasons and refusals; or what stands against it."""
    asked = desk.asked(job_in(body), top, prefer, "body", on, stock)
    hangs = asked.hangs_on if hangs_on else None
    return Json(plan_json(asked.plan, asked.resolved, asked.trouble, asked.others, asked.supposed, hangs))


@router.post("/check", responses=d.answer(d.CHECK))
def check(
    items: Items,
    desk: TheDesk,
    body: Annotated[JobTable | None, Body(description="The job to check them for, if any.", examples=[EXAMPLE])] = None,
) -> Json:
    """Whether things go together, and whether anybody knows: items, classes, chemicals, aids or exposures.

    `over`, `on`, `under` or `then` between two items says the order; without one both ways are judged.

    What would do instead (`remedies`) is looked for among up to four things with one adhesive or so; for more it
    would take minutes, and is left out.
    """
    setting = None if body is None else setting_for(job_in(body), desk.known, "body: part.substrate")
    found, ways = judged(desk.engine, question(items, desk.known, "item"), setting, "item")
    return Json(check_json(found, ways))


@router.post("/explain", responses=d.answer(d.EXPLAIN))
def explain(body: JobBody, item: Item, desk: TheDesk) -> Json:
    """Why an item is in, out or behind for a job, and what would let it in."""
    asked = desk.asked(job_in(body), 1, None, "body")
    entry = resolve.item(item, asked.engine.knowledge, "item", KINDS).entry
    return Json(why_json(find_why(asked.engine, asked.plan, entry)))


@router.post("/compare", responses=d.answer(d.COMPARE))
def compare(body: OneOrTwo, desk: TheDesk, ranks: Ranks = None, settings: Settings = None) -> Json:
    """Two chains of a job side by side; or a job with fields changed (`with`); or two jobs, in a list."""
    if sum((isinstance(body, list), bool(ranks), bool(settings))) > 1:
        raise BadInput("compare", "two jobs, `chain` and `with` exclude each other", "give one of them")
    if isinstance(body, list):
        one, other = (desk.asked(job_in(job), 1, None, f"body[{place}]") for place, job in enumerate(body))
        return Json(compare_json(Comparison(side_of(one, "the first"), side_of(other, "the second"))))
    if not settings:
        if ranks and len(ranks) != 2:
            raise BadInput("chain", "one rank alone is nothing to compare", "give two: chain=1&chain=3")
        first, second = ranks or (1, 2)
        if not (1 <= first <= 100 and 1 <= second <= 100):
            raise BadInput("chain", f"{first} and {second} are no two ranks", "from 1 to 100")
        asked = desk.asked(job_in(body), max(first, second), None, "body")
        return Json(compare_json(ranked(asked.plan, first, second)))
    asked = desk.asked(job_in(body), 1, None, "body")
    changed_one = desk.asked(changed(asked.job, settings, "with"), 1, None, "with")
    return Json(compare_json(Comparison(side_of(asked, "as it is"), side_of(changed_one, ", ".join(settings)))))


@router.post("/describe", responses=d.answer(d.DESCRIBE))
def describe(body: JobBody, desk: TheDesk, answers: Answers = None) -> Json:
    """A job on a material that the catalog lacks (`part.substrate` is a table): the questions that are still open, of
    which an answer would change the chain, and the plan so far."""
    job = job_in(body)
    said = job.part.substrate
    if not isinstance(said, dict):
        raise BadInput("body: part.substrate", "is not described", 'for instance {"like": "peek"}')
    interview = Interview(desk.engine, job, dict(said), "body: part.substrate")
    given: dict[str, str] = {}
    for words in answers or ():
        question, sign, answer = words.partition("=")
        if not sign:
            raise BadInput("answer", f"'{words}' is not QUESTION=ANSWER", "the questions are in `open`")
        given[question.strip()] = answer.strip()
    interview.take(given)
    found = interview.asked(3)
    return Json(describe_json(interview, found.plan, found.resolved, found.trouble))
