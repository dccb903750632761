"""Why an item is in, out or behind; and two chains side by side."""

from __future__ import annotations

from collections.abc import Iterator

from fastapi import APIRouter, Request
from starlette.responses import Response

from kb.base.errors import BadInput
from kb.base.vocabulary import KINDS
from kb.engine.goal import stands_in_chains
from kb.engine.why import explain
from kb.materials import resolve
from kb.planning.compare import Comparison, Side, ranked
from kb.quantities.layout import hours_of
from kb.report.compare import counts_words, gap_words
from kb.report.form import cure_words
from kb.report.hanging import hanging_head, hanging_words
from kb.report.ready import ready_words
from kb.report.trouble import relaxation_words
from kb.report.why import why_words
from kb.rules.words import seen_words
from kb.web.desk import Desk, TheDesk
from kb.web.forms import query_of
from kb.web.pages.answer import LABELS, said
from kb.web.pages.common import asked_in
from kb.web.pages.mending import mended
from kb.web.render import page
from kb.web.workers import Lasting

router = APIRouter(route_class=Lasting)


@router.get("/why")
def why(request: Request, desk: TheDesk) -> Response:
    """What the rules say of one item for the job in the address, what it lost by, and what would let it in."""
    return mended(request, "Why not …?", lambda: _why(request, desk))


def _why(request: Request, desk: Desk) -> Response:
    asked = asked_in(request, desk)
    words = request.query_params.get("item", "").strip()
    if not words:
        raise BadInput("item", "is missing", "name an adhesive, a coat, a degreaser, …")
    entry = resolve.item(words, desk.known, "item", KINDS).entry
    found = explain(asked.engine, asked.plan, entry)
    ways = found.way_in.relaxations if found.way_in else ()
    sides = ("The first chain", "Best with it" if found.standing == "behind" else "Best without it")
    return page(
        request,
        "why.html",
        title=entry.name,
        found=found,
        sides=sides,
        gaps=[(gap, gap_words((sides[0].lower(), f"the {sides[1].lower()}"), gap)) for gap in found.gaps],
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
    rows = list(_side_by_side(found))
    return page(
        request,
        "compare.html",
        title="Two chains",
        found=found,
        counts=counts_words(found),
        gaps=[(gap, gap_words((found.one.name, found.other.name), gap)) for gap in found.gaps],
        rows=[row for row in rows if row[1][0] != row[1][1]],
        same=[row for row in rows if row[1][0] == row[1][1]],
        only=[[said(f) for f in findings] for findings in found.findings],
        back=query_of(asked.job, prefer=asked.prefer),
    )


def _side_by_side(found: Comparison) -> Iterator[tuple[str, tuple[str, str]]]:
    """Tell what stands in each place of the two chains, and how they are cured."""
    sides = (found.one.chain, found.other.chain)
    names = {e.id: e.name for chain in sides if chain for option in chain.picks if (e := option.entry)}
    for slot, one, other in found.slots:
        yield LABELS[slot], (names.get(one, "nothing"), names.get(other, "nothing"))
    one, other = (cure_words(chain.cure) if chain and chain.cure else "none" for chain in sides)
    yield "Cure", (one, other)
    yield "Ready", (_ready(found.one), _ready(found.other))


def _ready(side: Side) -> str:
    return ready_words(hours_of(side.plan, side.chain)) if side.chain else "no chain"
