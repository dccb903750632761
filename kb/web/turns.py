"""What keeps one long computation from taking the time of everybody else: a queue, and bounds on what is asked."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from math import prod
from threading import BoundedSemaphore

from kb.base.errors import BadInput
from kb.engine.check import Checked, Thing, check
from kb.engine.remedies import Remedy, remedies
from kb.knowledge import Knowledge
from kb.rules.clauses import Facts
from kb.web.problems import Problem

#: Seconds that a long computation waits for the one before it.
TURN_S = 20.0
_TURN = BoundedSemaphore()
#: Each cure of each adhesive is judged with each of every other; and again with everything that might be swapped in.
MOST_WAYS, MOST_WAYS_MENDED, MOST_MENDED = 64, 4, 4


@contextmanager
def turn() -> Iterator[None]:
    """One long computation at a time, so that short ones are answered meanwhile; Problem 503 where it takes too long.

    No thread can be stopped, so each long computation has a bound of its own besides: see where this is used.
    """
    if not _TURN.acquire(timeout=TURN_S):
        raise Problem(503, "busy", "", "another long computation is under way", "ask again in a moment")
    try:
        yield
    finally:
        _TURN.release()


def together(
    known: Knowledge, things: Sequence[Thing], facts: Mapping[str, Facts] | None, where: str
) -> tuple[Checked, list[Remedy] | None]:
    """The verdict on things together, and what would do instead: None where looking for that would take minutes.

    BadInput, which names `where`, for so many adhesives that even the verdict would.
    """
    ways = prod(len(t.entry.facts["schedules"]) for t in things if t.entry and t.kind == "adhesive")
    if ways > MOST_WAYS:
        raise BadInput(where, "so many adhesives can't be judged together: each has several cures", "name fewer")
    checked = check(known, things, facts)
    if len(things) > MOST_MENDED or ways > MOST_WAYS_MENDED:
        return checked, None
    with turn():
        return checked, remedies(known, things, checked, facts)
