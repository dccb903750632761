"""What pages and API alike ask: a verdict on things together; of a chain its yield, amounts, schedule and lots."""

from __future__ import annotations

from math import prod
from typing import Any

from kb.base.errors import BadInput
from kb.engine.chain import Chain
from kb.engine.check import Answer, Question, Remedy, Setting, answer, remedies
from kb.engine.plan import Engine
from kb.planning.ask import Asked
from kb.quantities.estimate import Estimate
from kb.quantities.estimate import estimate as reckon
from kb.quantities.layout import attempts_of, timeline
from kb.quantities.timeline import Timeline
from kb.web.desk import Desk
from kb.work.costing import Costs, costs_of, in_own_packs
from kb.work.installations import yield_of
from kb.work.picking import Picked, pick_for
from kb.work.reserving import reserved_in
from kb.work.yields import Yield

#: Laying out more installations takes longer than anybody waits for a page; the commands lay out any number.
MOST_SCHEDULED = 5000
#: Each member of a class is judged with each of every other, each cure of an adhesive too; and all that once more with
#: everything that might be swapped in.
MOST_MEMBERS, MOST_ADHESIVES, MOST_WAYS_MENDED, MOST_MENDED = 2500, 4, 4, 4


def judged(engine: Engine, asked: Question, setting: Setting | None, where: str) -> tuple[Answer, list[Remedy] | None]:
    """Give the verdict on what was asked, and what would do instead: None where looking for that would take minutes.

    BadInput, which names `where`, for so many adhesives that even the verdict would.
    """
    things = [thing for one in asked.asked for thing in one.things if thing.kind == "adhesive"]
    ways = prod(len(t.entry.facts["schedules"]) for t in things if t.entry)
    named = [one for one in asked.asked if one.kind == "adhesive"]
    if len(named) > MOST_ADHESIVES or prod(len(one.things) for one in asked.asked) > MOST_MEMBERS:
        raise BadInput(where, "so many things can't be judged together", "name fewer, or narrower classes")
    found = answer(engine, asked, setting, where)
    if any(one.is_class for one in asked.asked):
        return found, []
    if len(asked.asked) > MOST_MENDED or ways > MOST_WAYS_MENDED:
        return found, None
    return found, remedies(engine, [one.things[0] for one in asked.asked], found.checked, setting)


def learned_yield(asked: Asked, chain: Chain, desk: Desk) -> Yield | None:
    """Tell what the lab's record says of the chain's yield; None where nothing of it was recorded."""
    return yield_of(desk.ledger(), chain.named, asked.job.batch.expected_yield)


def estimated(asked: Asked, chain: Chain, desk: Desk) -> tuple[Estimate, Yield | None]:
    """Tell what the job takes, with the yield as the lab has learned it."""
    learned = learned_yield(asked, chain, desk)
    bounded(asked, learned)
    return reckon(asked.plan, chain), learned


def costed(asked: Asked, chain: Chain, desk: Desk) -> tuple[Estimate, Costs, Yield | None]:
    """Give the same in the packs that the lab orders, with what it costs by the lab's prices."""
    work, learned = estimated(asked, chain, desk)
    supplies = desk.supplies()
    work = in_own_packs(work, supplies.by_item)
    return work, costs_of(work, supplies.by_item, supplies.currency), learned


def scheduled(work: Estimate, *terms: Any) -> Timeline:
    """Give the attempts of an estimate on the clock; BadInput where these are too many.

    `terms` are what `kb.quantities.layout.timeline` takes beside: the workday, a start, a deadline.
    """
    return timeline(work.plan, work.chain, work.installations.attempts, *terms)


def picked(asked: Asked, chain: Chain, day: str, desk: Desk) -> Picked:
    """Tell what to take from which lot on a day; what other jobs keep for themselves is left for them."""
    work, _, _ = costed(asked, chain, desk)
    others = reserved_in(desk.ledger(), apart_from=asked.job.job.name)
    return pick_for(work, desk.ledger().shelf(), desk.items().facts, day, others)


def bounded(asked: Asked, learned: Yield | None) -> None:
    """Raise BadInput where a job's installations are more than are laid out here."""
    attempts = attempts_of(asked.job.batch, learned.mean if learned else None)
    if attempts > MOST_SCHEDULED:
        said = f"{attempts} installations are more than are scheduled here (at most {MOST_SCHEDULED})"
        raise BadInput("batch", said, "split the batch, or use the command")
