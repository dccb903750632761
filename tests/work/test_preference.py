"""What the shelf can supply comes first: it is the best of what is usable, and bears its own cost and reasons."""

from __future__ import annotations

import random
from dataclasses import replace
from decimal import Decimal

from kb.engine.chain import Chain
from kb.engine.plan import Engine
from kb.knowledge import Entry, Knowledge
from kb.planning.ask import ask
from kb.stock.flags import Judged
from kb.stock.lots import Lot
from kb.stock.shelf_life import Life
from kb.work.preference import offered
from tests.oracles.jobs import random_job

DAY = "2027-03-01"
KEPT = ("adhesive", "abrasive", "coating", "degreaser")


def lot_of(entry: Entry, state: str) -> Judged:
    lot = Lot(f"lot-{entry.id}", entry.id, Decimal(10), "g", "2027-01-01T00:00:00Z")
    return Judged(lot, Life(None, "", state, "as the test has it", ()))


def told(chains: tuple[Chain, ...]) -> list[tuple[int, list[str], list[str]]]:
    return [(c.cost, [option.id for option in c.picks], [f.rule.id for f in c.findings]) for c in chains]


def test_the_chains_from_the_shelf_are_those_of_a_catalog_that_holds_no_more(
    knowledge: Knowledge, engine: Engine
) -> None:
    supplied = 0
    for seed in range(12):
        draw = random.Random(seed)
        job, _ = random_job(seed, knowledge)
        kept = [e for e in knowledge.entries.values() if e.kind in KEPT]
        shelf = [lot_of(e, "ok" if draw.random() < 0.6 else "expired") for e in kept]
        usable = {one.lot.item for one in shelf if one.life.usable}
        asked = ask(engine, job, "job", shelf=offered(shelf, DAY))
        plan = asked.plan
        there = {i: e for i, e in knowledge.entries.items() if e.kind not in KEPT or i in usable}
        bare = Engine(replace(knowledge, entries=there, index={}))
        count = plan.supplied or 0
        assert told(plan.chains[:count]) == told(bare.plan(job, asked.resolved.entry, 3).chains)[:count]
        supplied += count
    assert supplied > 10
