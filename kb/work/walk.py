"""What comes next in a run of the bench: the first task that can be done now, or the wait that ends first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from typing import NamedTuple

from kb.planning.procedure import Step
from kb.work.run import Event, Task


class Next(NamedTuple):
    """A task for the installations of these names; with `until`, not before then, for what `wait_for` says."""

    task: Task
    names: tuple[str, ...]
    until: datetime | None = None
    wait_for: str = ""


def next_of(tasks: Sequence[Task], steps: Sequence[Step], events: Sequence[Event], now: datetime) -> Next | None:
    """Find what comes next by the schedule's order; None where all is done, or was rejected."""
    first = number_of(events)
    done, failed, waits = _state(events, steps)
    held: set[str] = set()
    soonest: Next | None = None
    for task in tasks:
        names = tuple(name for one in task.installations if (name := str(first + one - 1)) not in failed)
        left = tuple(name for name in names if (task.step + 1, name) not in done)
        if not left:
            continue
        waiting = [waits[name] for name in left if name in waits and waits[name][0] > now]
        if not waiting and not held & set(left):
            return Next(task, left)
        for until, words in waiting:
            if soonest is None or soonest.until is None or until < soonest.until:
                soonest = Next(task, left, until, words)
        held |= set(left)
    return soonest


def number_of(events: Sequence[Event]) -> int:
    """Give the number of the run's first installation, as it was begun with."""
    return next((int(event["value"]) for event in events if event["kind"] == "who" and event.get("value")), 1)


def _state(
    events: Sequence[Event], steps: Sequence[Step]
) -> tuple[set[tuple[int, str]], set[str], dict[str, tuple[datetime, str]]]:
    """What is done, by step and name; what was rejected; and until when each waits, for what."""
    done, failed, waits = set[tuple[int, str]](), set[str](), dict[str, tuple[datetime, str]]()
    for event in _standing(events):
        names = event.get("installations", ())
        if event["kind"] == "fail":
            failed |= set(names)
        elif event["kind"] == "early":
            for name in names:
                waits.pop(name, None)
        elif event["kind"] == "done":
            done |= {(event["step"], name) for name in names}
            step = steps[event["step"] - 1]
            if step.wait_s:
                until = datetime.fromisoformat(event["at"]) + timedelta(seconds=step.wait_s)
                waits |= dict.fromkeys(names, (until, step.wait_for or step.stage))
    return done, failed, waits


def _standing(events: Sequence[Event]) -> Iterator[Event]:
    """The events that were not taken back."""
    undone = {event["note"] for event in events if event["kind"] == "undo"}
    return (event for event in events if event["key"] not in undone)
