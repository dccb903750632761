"""Laws of a day, each held for a random job and shelf by its seed: one reckoning of times, cups, packs and lots.

`tests/quantities/test_one_reckoning.py` holds them for some seeds; `python -m tests.quantities` for as many as asked.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Any, Final

from kb.engine.chain import Chain
from kb.engine.plan import Engine
from kb.job import job_of
from kb.planning.ask import Asked, ask
from kb.quantities.estimate import Estimate, Line, estimate
from kb.quantities.layout import attempts_of, timeline
from kb.quantities.timeline import Timeline
from kb.report.estimate import estimate_json, estimate_text
from kb.report.plan_json import plan_json
from kb.report.plan_short import answer_text
from kb.report.timeline import timeline_json, timeline_text
from kb.stock.amounts import unit_named
from kb.stock.fold import Shelf
from kb.stock.lots import Lot
from kb.work.ordering import order_for
from kb.work.picking import pick_for
from tests.oracles.jobs import random_job

MONDAY = date(2027, 3, 1)
READY = ("ready_after_min", "batch_ready_after_min", "within_limit")
#: What amounts are told to.
_LEAST = Decimal("0.001")


def batch_of(seed: int) -> dict[str, Any]:
    """A batch of some size, with some hands and some haste."""
    draw = random.Random(seed)
    return {
        "batch": {
            "boards": draw.choice([1, 2, 7, 30]),
            "gauges_per_board": draw.choice([1, 2, 4]),
            "technicians": draw.choice([1, 1, 2, 3]),
            "expected_yield": draw.choice([0.8, 0.95, 1.0]),
        },
        "limits": draw.choice([{}, {"ready_within_h": draw.choice([4, 30, 120])}]),
    }


def asked_of(seed: int, engine: Engine, **more: Any) -> Asked | None:
    """The answer for the random job of that seed; None where it has no chain."""
    job, _ = random_job(seed, engine.knowledge)
    tables = job.model_dump(mode="json", exclude_defaults=True)
    asked = ask(engine, job_of({**tables, **batch_of(seed), **more}, "law"), "law", top=1)
    return asked if asked.plan.chains else None


def planned_on_monday(seed: int, engine: Engine) -> Asked | None:
    """The same with a day on which the work begins."""
    return asked_of(seed, engine, job={"planned_on": MONDAY})


def times_agree(seed: int, engine: Engine) -> None:
    """Plan, estimate and timeline give the same times, of all their attempts."""
    if (asked := asked_of(seed, engine)) is None:
        return
    plan, chain = asked.plan, asked.chain()
    planned = plan_json(plan, asked.resolved, None)["chains"][0]
    estimated = estimate_json(estimate(plan, chain))
    laid_out = timeline_json(_hours(asked, chain), None)
    assert {k: planned[k] for k in READY} == {k: estimated[k] for k in READY} == {k: laid_out[k] for k in READY}
    assert planned["ready_after_min"] <= planned["batch_ready_after_min"]
    assert laid_out["installations"] == estimated["installations"]["attempts"]
    limit = plan.job.limits.ready_within_h
    assert planned["within_limit"] is (None if limit is None else planned["batch_ready_after_min"] <= limit * 60)


def a_missed_limit_is_said_first(seed: int, engine: Engine) -> None:
    """Whatever answers says within its first ten lines that the batch misses its limit, and never that it doesn't."""
    if (asked := asked_of(seed, engine)) is None:
        return
    hours = _hours(asked, asked.chain())
    told = {
        "plan": answer_text(asked, "short"),
        "plan --full": answer_text(asked, "full"),
        "estimate": estimate_text(estimate(asked.plan, asked.chain())),
        "timeline": timeline_text(hours, None),
    }
    for name, text in told.items():
        head = " ".join(" ".join(text.splitlines()[:10]).split())
        missed = "MISSES THE LIMIT" in head or ("THE LIMIT" in head and "IS MISSED" in head)
        assert missed is (hours.hours.within_limit is False), name


def cups_keep(seed: int, engine: Engine) -> None:
    """Every mix is used up within its pot life on the schedule; where one alone takes longer, that is said."""
    if (asked := asked_of(seed, engine)) is None:
        return
    found = estimate(asked.plan, asked.chain())
    for mix in found.mixes:
        told = "pot-life-too-short-for-one" in {remark.rule for remark in mix.remarks}
        assert sum(cup.installations for cup in mix.cups) >= found.installations.attempts
        for cup in mix.cups:
            late = mix.pot_life_min is not None and cup.done_s - cup.opened_s > mix.pot_life_min * 60
            assert not late or (told and cup.installations == 1), mix.entry.id


def packs_suffice(seed: int, engine: Engine) -> None:
    """Packs cover what is to be brought, which covers what is reckoned and the upper end of the range."""
    if (asked := asked_of(seed, engine)) is None:
        return
    for line in estimate(asked.plan, asked.chain()).lines:
        assert line.bring >= max(line.gross, line.range[1]), line.entry.id
        if line.packs is not None and line.pack_size is not None:
            assert line.packs * line.pack_size >= line.bring, line.entry.id


def what_is_picked_is_alive(seed: int, engine: Engine) -> None:
    """Hour by hour: what is used comes from the lots in their order, and none has ended, or been open too long."""
    if (asked := planned_on_monday(seed, engine)) is None:
        return
    work, draw = estimate(asked.plan, asked.chain()), random.Random(seed)
    lots, facts = _shelf_for(work, draw)
    found = pick_for(work, Shelf(lots), lambda item: facts.get(item, {}), MONDAY.isoformat())
    assert [float(line.need.amount) for line in found.lines] == [round(line.gross, 6) for line in work.lines]
    for line, picked in zip(work.lines, found.lines, strict=True):
        assert sum(take.quantity for take in picked.takes) + picked.short == picked.need.amount
        left = [(take.lot, take.quantity) for take in picked.takes]
        opened: dict[str, date] = {}
        for moment, used in _used(line, work.hours):
            needed = Decimal(str(used))
            while left and needed > _LEAST:
                name, there = left[0]
                taken = min(needed, there)
                if taken > _LEAST:
                    _must_be_alive(lots[name], facts.get(line.entry.id, {}), opened, moment)
                needed, left[0] = needed - taken, (name, there - taken)
                if left[0][1] <= _LEAST:
                    left.pop(0)


def orders_suffice(seed: int, engine: Engine) -> None:
    """What the shelf gives and the packs bought cover together what is to be brought."""
    if (asked := planned_on_monday(seed, engine)) is None:
        return
    work, draw = estimate(asked.plan, asked.chain()), random.Random(seed)
    lots, facts = _shelf_for(work, draw)
    found = order_for(work, Shelf(lots), lambda item: facts.get(item, {}), MONDAY.isoformat(), {}, ())
    for line, row in zip(work.lines, found.rows, strict=True):
        assert float(row.needed) >= line.bring - 1e-6
        bought = (row.packs or 0) * (row.pack_size or 0) if row.packs is not None else row.lacking
        assert row.shelf + bought >= row.needed, line.entry.id


#: Every law by its name.
LAWS: Final[dict[str, Callable[[int, Engine], None]]] = {
    law.__name__: law
    for law in (
        times_agree, a_missed_limit_is_said_first, cups_keep, packs_suffice, what_is_picked_is_alive, orders_suffice,
    )
}  # fmt: skip


def _hours(asked: Asked, chain: Chain) -> Timeline:
    return timeline(asked.plan, chain, attempts_of(asked.plan.job.batch))


def _shelf_for(work: Estimate, draw: random.Random) -> tuple[dict[str, Lot], dict[str, dict[str, Any]]]:
    """Lots of what a job takes, too few and too many, some near their end; some items keep for days once opened."""
    lots: dict[str, Lot] = {}
    facts: dict[str, dict[str, Any]] = {}
    for line in work.lines:
        if draw.random() < 0.4:
            facts[line.entry.id] = {"opened_life_days": draw.choice([1, 3, 30])}
        for number in range(draw.randint(0, 3)):
            until = (MONDAY + timedelta(days=draw.randint(-2, 12))).isoformat()
            opened = (MONDAY - timedelta(days=draw.randint(0, 4))).isoformat() if draw.random() < 0.2 else None
            amount = Decimal(str(round(line.gross * draw.uniform(0.2, 1.2), 3)))
            name = f"{line.entry.id}-{number}"
            unit = unit_named(line.unit)
            lots[name] = Lot(name, line.entry.id, amount, unit, "2027-01-10", expires=until, opened=opened)
    return lots, facts


def _must_be_alive(lot: Lot, facts: dict[str, Any], opened: dict[str, date], moment: datetime) -> None:
    day = moment.date()
    begun = opened.setdefault(lot.lot, date.fromisoformat(lot.opened) if lot.opened else day)
    assert str(lot.expires) >= day.isoformat(), (lot.lot, day)
    if "opened_life_days" in facts:
        assert day <= begun + timedelta(days=facts["opened_life_days"]), (lot.lot, begun, day)


def _used(line: Line, hours: Timeline) -> Iterator[tuple[datetime, float]]:
    """When how much of an item is used, by the rows of the timeline; losses go with the use."""
    weights: dict[datetime, float] = {}
    for use in line.uses:
        rows = [row for row in hours.rows() if row.who and row.stage == use.stage]
        for row in rows:
            moment = datetime.combine(MONDAY, time()) + timedelta(seconds=hours.first_s, minutes=row.start_min)
            weights[moment] = weights.get(moment, 0.0) + use.each / len(rows)
    total = sum(weights.values())
    yield from ((moment, line.gross * weight / total) for moment, weight in sorted(weights.items()))
