"""Why an item is in, out or behind; and two chains side by side."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import Response

from kb.base.errors import BadInput
from kb.base.vocabulary import KINDS
from kb.engine.goal import stands_in_chains
from kb.engine.why import explain
from kb.materials import resolve
from kb.planning.compare import ranked
from kb.quantities.layout import hours_of
from kb.report.hanging import hanging_head, hanging_words
from kb.report.ready import ready_words
from kb.report.trouble import relaxation_words
from kb.report.why import why_words
from kb.rules.words import seen_words
from kb.web.desk import TheDesk
from kb.web.forms import query_of
from kb.web.pages.answer import LABELS, said
from kb.web.pages.common import asked_in
from kb.web.render import page
from kb.web.workers import Lasting

router = APIRouter(route_class=Lasting)


@router.get("/why")
def why(request: Request, desk: TheDesk) -> Response:
    """What the rules say of one item for the job in the address, what it lost by, and what would let it in."""
    asked = asked_in(request, desk)
    words = request.query_params.get("item", "").strip()
    if not words:
        raise BadInput("item", "is missing", "name an adhesive, a coat, a degreaser, …")
    entry = resolve.item(words, desk.known, "item", KINDS).entry
    found = explain(asked.engine, asked.plan, entry)
    ways = found.way_in.relaxations if found.way_in else ()
    return page(
        request,
        "why.html",
        title=entry.name,
        found=found,
        words=why_words(found),
        findings=[(said(f), seen_words(f.seen) if f.seen else "", f.rule.instead) for f in found.findings],
        ways=[(relaxation_words(r), query_of(r.job, prefer=asked.prefer)) for r in ways],
        back=query_of(asked.job, prefer=asked.prefer),
        fields=request.query_params.multi_items(),
        names=sorted(e.name for e in desk.known.entries.values() if stands_in_chains(e)),
    )


@router.get("/holds")
def holds(request: Request, desk: TheDesk) -> Response:
    """Say what the answer to the job in the address hangs on, fact by fact."""
    asked = asked_in(request, desk)
    told = list(hanging_words(asked.plan, asked.hangs_on))
    return page(request, "holds.html", title="What it hangs on", head=hanging_head(asked.plan), told=told)


@router.get("/compare")
def compare(request: Request, desk: TheDesk) -> Response:
    """Two chains of the job in the address, by their ranks `a` and `b`."""
    ranks = [request.query_params.get(name, usual) for name, usual in (("a", "1"), ("b", "2"))]
    if not all(rank.isdecimal() and 1 <= int(rank) <= 100 for rank in ranks):
        raise BadInput("a, b", f"'{', '.join(ranks)}' are no ranks", "whole numbers from 1 to 100")
    one, other = (int(rank) for rank in ranks)
    asked = asked_in(request, desk, max(3, one, other))
    asked.chain()
    found = ranked(asked.plan, one, other)
    names = {e.id: e.name for c in (found.one.chain, found.other.chain) if c for o in c.picks if (e := o.entry)}
    return page(
        request,
        "compare.html",
        title="Two chains",
        found=found,
        labels=LABELS,
        ready=[ready_words(hours_of(side.plan, side.chain)) for side in (found.one, found.other) if side.chain],
        names=names,
        only=[[said(f) for f in findings] for findings in found.findings],
        back=query_of(asked.job, prefer=asked.prefer),
    )
