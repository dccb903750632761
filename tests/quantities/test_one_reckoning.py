"""Plan, estimate and timeline say the same of one day, and its cups and packs hold on the schedule."""

from __future__ import annotations

import random
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Any

import pytest

from kb.base.vocabulary import PROOF_STAGE
from kb.engine.plan import Engine
from kb.job import job_of
from kb.planning.ask import ask
from kb.planning.procedure import procedure
from kb.quantities.estimate import Line, estimate
from kb.quantities.layout import attempts_of, hours_of, timeline
from kb.quantities.timeline import Timeline
from kb.report.estimate import estimate_json
from kb.report.plan_json import plan_json
from kb.report.plan_short import answer_text
from kb.report.timeline import timeline_json
from kb.rules.roles import SLOTS
from kb.stock.amounts import unit_named
from kb.stock.fold import Shelf
from kb.stock.lots import Lot
from kb.work.picking import pick_for
from tests.oracles.jobs import random_job

SEEDS = range(50)
MONDAY = date(2027, 3, 1)
READY = ("ready_after_min", "batch_ready_after_min", "within_limit")


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


@pytest.mark.parametrize("seed", SEEDS)
def test_all_answers_give_the_same_times_and_keep_them(seed: int, engine: Engine) -> None:
    job, _ = random_job(seed, engine.knowledge)
    made = batch_of(seed)
    tables = job.model_dump(mode="json", exclude_defaults=True)
    asked = ask(engine, job_of({**tables, **made}, "law"), "law", top=1)
    if not asked.plan.chains:
        return
    plan, chain = asked.plan, asked.chain()
    planned = plan_json(plan, asked.resolved, None)["chains"][0]
    estimated = estimate_json(found := estimate(plan, chain))
    laid_out = timeline_json(timeline(plan, chain, attempts_of(plan.job.batch)), None)
    assert {k: planned[k] for k in READY} == {k: estimated[k] for k in READY} == {k: laid_out[k] for k in READY}
    assert planned["ready_after_min"] <= planned["batch_ready_after_min"]
    limit = plan.job.limits.ready_within_h
    assert planned["within_limit"] is (None if limit is None else planned["batch_ready_after_min"] <= limit * 60)
    if planned["within_limit"] is False:
        head = "\n".join(answer_text(asked, "short").splitlines()[:10])
        assert "limit" in head.lower()
    for mix in found.mixes:
        told = "pot-life-too-short-for-one" in {remark.rule for remark in mix.remarks}
        assert sum(cup.installations for cup in mix.cups) >= found.installations.attempts
        for cup in mix.cups:
            assert mix.pot_life_min is None or told or cup.done_s - cup.opened_s <= mix.pot_life_min * 60
    for line in found.lines:
        if line.packs is not None and line.pack_size is not None:
            assert line.packs * line.pack_size >= max(line.gross, line.range[1])


@pytest.mark.parametrize("seed", SEEDS)
def test_what_is_picked_is_alive_at_the_hour_of_its_use(seed: int, engine: Engine) -> None:
    """Day by day: what is used on it comes from the lots in their order, and none of them has ended by then."""
    draw = random.Random(seed)
    job, _ = random_job(seed, engine.knowledge)
    tables = {**job.model_dump(mode="json", exclude_defaults=True), **batch_of(seed), "job": {"planned_on": MONDAY}}
    asked = ask(engine, job_of(tables, "law"), "law", top=1)
    if not asked.plan.chains:
        return
    work = estimate(asked.plan, asked.chain())
    lots = {}
    for line in work.lines:
        for number in range(draw.randint(0, 3)):
            until = (MONDAY + timedelta(days=draw.randint(-2, 12))).isoformat()
            amount = Decimal(str(round(line.gross * draw.uniform(0.2, 1.2), 3)))
            name = f"{line.entry.id}-{number}"
            lots[name] = Lot(name, line.entry.id, amount, unit_named(line.unit), "2027-01-10", expires=until)
    found = pick_for(work, Shelf(lots), lambda _: {}, MONDAY.isoformat())
    assert [float(line.need.amount) for line in found.lines] == [pytest.approx(line.gross) for line in work.lines]
    for line, picked in zip(work.lines, found.lines, strict=True):
        assert sum(take.quantity for take in picked.takes) + picked.short == picked.need.amount
        left = [(take.lot, take.quantity) for take in picked.takes]
        for day, used in _used_on(line, work.hours).items():
            needed = Decimal(str(used))
            while left and needed > Decimal("0.001"):
                lot, there = left[0]
                taken = min(needed, there)
                if taken > Decimal("0.001"):
                    assert str(lots[lot].expires) >= day, (line.entry.id, day)
                needed, left[0] = needed - taken, (lot, there - taken)
                if left[0][1] <= Decimal("0.001"):
                    left.pop(0)


def _used_on(line: Line, hours: Timeline) -> dict[str, float]:
    """How much of an item is used on each day, by the rows of the timeline; losses go with the use."""
    weights: dict[str, float] = {}
    for use in line.uses:
        rows = [row for row in hours.rows() if row.who and row.stage == use.stage]
        for row in rows:
            moment = datetime.combine(MONDAY, time()) + timedelta(seconds=hours.first_s, minutes=row.start_min)
            day = moment.date().isoformat()
            weights[day] = weights.get(day, 0.0) + use.each / len(rows)
    return {day: line.gross * weight / sum(weights.values()) for day, weight in sorted(weights.items())}


@pytest.mark.parametrize("seed", range(0, 50, 5))
def test_what_the_record_says_of_a_chain_counts_in_every_answer(seed: int, engine: Engine) -> None:
    job, _ = random_job(seed, engine.knowledge)
    tables = {**job.model_dump(mode="json", exclude_defaults=True), "batch": {"boards": 12, "expected_yield": 0.99}}
    asked = ask(engine, job_of(tables, "law"), "law", top=2)
    if not asked.plan.chains:
        return
    learned = {frozenset(asked.chain().named.items()): 0.5}
    again = ask(engine, asked.job, "law", top=2, yields=learned)
    planned = plan_json(again.plan, again.resolved, None)["chains"]
    for chain, told in zip(again.plan.chains, planned, strict=True):
        found = estimate(again.plan, chain)
        assert found.installations.expected_yield == (0.5 if chain.rank == 1 else 0.99)
        assert {k: told[k] for k in READY} == {k: estimate_json(found)[k] for k in READY}
    said = " ".join(answer_text(again, "short").split())
    assert "the yield that the lab's record gives this chain, 50 %; the job says 99 %" in said


def test_the_search_counts_the_minutes_that_the_steps_take(engine: Engine) -> None:
    """What the search holds against the limit is what one installation takes that waits for nobody, to the second."""
    for seed in SEEDS:
        job, _ = random_job(seed, engine.knowledge)
        for chain in (asked := ask(engine, job, "law")).plan.chains:
            steps = [s for s in procedure(asked.plan, chain) if s.stage != PROOF_STAGE]
            own = engine.knowledge.tables["ranking"]["steps"]["minutes"]
            slots = [
                own[slot] + option.entry.facts.get("minutes", 0.0)
                for slot, option in zip(SLOTS, chain.picks, strict=True)
                if option.entry is not None
            ]
            minutes = sum(s.hands_min + s.wait_s / 60 for s in steps) + sum(slots)
            assert chain.critical_path_min == pytest.approx(minutes), seed
            assert chain.critical_path_min <= hours_of(asked.plan, chain).ready_after_min + 1e-6, seed
