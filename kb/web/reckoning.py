"""What pages and API alike ask about a chain: the yield that was learned, its amounts, its schedule, its lots."""

from __future__ import annotations

from typing import Any

from kb.base.errors import BadInput
from kb.engine.chain import Chain
from kb.planning.ask import Asked
from kb.quantities.estimate import Estimate
from kb.quantities.estimate import estimate as reckon
from kb.quantities.layout import attempts_of, timeline
from kb.quantities.timeline import Timeline
from kb.web.desk import Desk
from kb.work.installations import yield_of
from kb.work.picking import Picked, pick_for
from kb.work.reserving import reserved_in
from kb.work.yields import Yield

#: Laying out more installations takes longer than anybody waits for a page; the commands lay out any number.
MOST_SCHEDULED = 5000


def learned_yield(asked: Asked, chain: Chain, desk: Desk) -> Yield | None:
    """What the lab's record says of the chain's yield; None where nothing of it was recorded."""
    return yield_of(desk.ledger(), chain.named, asked.job.batch.expected_yield)


def estimated(asked: Asked, chain: Chain, desk: Desk) -> tuple[Estimate, Yield | None]:
    """What the job takes, with the yield as the lab has learned it."""
    learned = learned_yield(asked, chain, desk)
    bounded(asked, learned)
    return reckon(asked.plan, chain), learned


def scheduled(work: Estimate, *terms: Any) -> Timeline:
    """The attempts of an estimate on the clock; BadInput where these are too many.

    `terms` are what `kb.quantities.layout.timeline` takes beside: the bench, a start, a deadline.
    """
    return timeline(work.plan, work.chain, work.installations.attempts, *terms)


def picked(asked: Asked, chain: Chain, day: str, desk: Desk) -> Picked:
    """What to take from which lot on a day; what other jobs keep for themselves is left for them."""
    work, _ = estimated(asked, chain, desk)
    others = reserved_in(desk.ledger(), apart_from=asked.job.job.name)
    return pick_for(work, desk.ledger().shelf(), desk.items().facts, day, others)


def bounded(asked: Asked, learned: Yield | None) -> None:
    """Raise BadInput where a job's installations are more than are laid out here."""
    attempts = attempts_of(asked.job.batch, learned.mean if learned else None)
    if attempts > MOST_SCHEDULED:
        said = f"{attempts} installations are more than are scheduled here (at most {MOST_SCHEDULED})"
        raise BadInput("batch", said, "split the batch, or use the command")
