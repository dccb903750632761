"""What keeps one long computation from taking the time of everybody else: a queue, and bounds on what is asked."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from math import prod
from threading import BoundedSemaphore

from kb.base.errors import BadInput
from kb.engine.check import Answer, Question, Remedy, Setting, answer, remedies
from kb.engine.plan import Engine
from kb.web.problems import Problem

#: Seconds that a long computation waits for the one before it.
TURN_S = 20.0
_TURN = BoundedSemaphore()
#: Each member of a class is judged with each of every other, each cure of an adhesive too; and all that once more with
#: everything that might be swapped in.
MOST_MEMBERS, MOST_ADHESIVES, MOST_WAYS_MENDED, MOST_MENDED = 2500, 4, 4, 4


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


def judged(engine: Engine, asked: Question, setting: Setting | None, where: str) -> tuple[Answer, list[Remedy] | None]:
    """The verdict on what was asked, and what would do instead: None where looking for that would take minutes.

    BadInput, which names `where`, for so many adhesives that even the verdict would.
    """
    things = [thing for one in asked.asked for thing in one.things if thing.kind == "adhesive"]
    ways = prod(len(t.entry.facts["schedules"]) for t in things if t.entry)
    named = [one for one in asked.asked if one.kind == "adhesive"]
    if len(named) > MOST_ADHESIVES or prod(len(one.things) for one in asked.asked) > MOST_MEMBERS:
        raise BadInput(where, "so many things can't be judged together", "name fewer, or narrower classes")
    if any(one.is_class for one in asked.asked):
        with turn():
            return answer(engine, asked, setting, where), []
    found = answer(engine, asked, setting, where)
    if len(asked.asked) > MOST_MENDED or ways > MOST_WAYS_MENDED:
        return found, None
    with turn():
        return found, remedies(engine, [one.things[0] for one in asked.asked], found.checked, setting)
