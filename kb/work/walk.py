"""What comes next in a run of the bench: the first task that can be done now, or the wait that ends first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import NamedTuple

from kb.planning.procedure import Step
from kb.quantities.workday import defaults
from kb.work.rounds import Task
from kb.work.run import Event, standing


class Next(NamedTuple):
    """A task for the installations of these names; with `until`, not before then, for what `wait_for` says.

    `ready` are those of them that wait for nothing but the others.
    """

    task: Task
    names: tuple[str, ...]
    until: datetime | None = None
    wait_for: str = ""
    ready: tuple[str, ...] = ()


class State(NamedTuple):
    """What is done, by step and name; what was rejected; and until when each waits, for what."""

    done: set[tuple[int, str]]
    failed: set[str]
    waits: dict[str, tuple[datetime, str]]


def patience() -> timedelta:
    """Tell how long the gauges of a round wait for the last of them."""
    return timedelta(minutes=defaults()["hands"]["attended_wait_min"])


def next_of(
    tasks: Sequence[Task], steps: Sequence[Step], events: Sequence[Event], now: datetime, patient: bool = True
) -> Next | None:
    """Find what comes next by the schedule's order; None where all is done, or was rejected.

    Not `patient`: those that are ready don't wait for the rest of their round.
    """
    first = number_of(events)
    state = state_of(events, steps)
    waits = {name: wait for name, wait in state.waits.items() if wait[0] > now}
    todo = [(task, left) for task in tasks if (left := left_of(task, first, state))]
    kept = _keeping(todo, state, waits, now) if patient else None
    if kept is not None:
        return kept
    held: set[str] = set()
    soonest: Next | None = None
    for task, left in todo:
        ready = tuple(name for name in left if name not in waits and name not in held)
        rest = [name for name in left if name not in ready]
        if ready and not (rest and task.whole):
            until = _soon(rest, waits, now) if patient else None
            if until is None:
                return Next(task, ready)
            found: Next | None = Next(task, left, *until, ready)
        else:
            first_wait = min((waits[name] for name in left if name in waits), default=None)
            found = None if first_wait is None else Next(task, left, *first_wait)
        if found is not None and (soonest is None or _until(found) < _until(soonest)):
            soonest = found
        held |= set(left)
    return soonest


def _keeping(
    todo: Sequence[tuple[Task, tuple[str, ...]]], state: State, waits: Mapping[str, tuple[datetime, str]], now: datetime
) -> Next | None:
    """Find the wait that keeps its person: nothing else is begun while a thumb presses, or a bare surface dries."""
    for task, left in todo:
        come = all(task.steps[0] == 0 or (task.steps[0], name) in state.done for name in left)
        until = _soon([name for name in left if name in waits], waits, now) if task.attended and come else None
        if until is not None:
            return Next(task, left, *until, tuple(name for name in left if name not in waits))
    return None


def _soon(rest: Sequence[str], waits: Mapping[str, tuple[datetime, str]], now: datetime) -> tuple[datetime, str] | None:
    """Until when the rest of a round keep the others waiting, and for what; None where that would be too long."""
    if not rest or not all(name in waits for name in rest):
        return None
    last = max(waits[name] for name in rest)
    return last if last[0] - now <= patience() else None


def _until(found: Next) -> datetime:
    assert found.until is not None
    return found.until


def left_of(task: Task, first: int, state: State) -> tuple[str, ...]:
    """Name the installations for which something of a task is still to be done."""
    names = (str(first + one - 1) for one in task.installations)
    return tuple(
        name
        for name in names
        if name not in state.failed and any((step + 1, name) not in state.done for step in task.steps)
    )


def number_of(events: Sequence[Event]) -> int:
    """Give the number of the run's first installation, as it was begun with."""
    return next((int(event["value"]) for event in events if event["kind"] == "who" and event.get("value")), 1)


def state_of(events: Sequence[Event], steps: Sequence[Step]) -> State:
    """Work out how far each installation is."""
    state = State(set(), set(), {})
    for event in standing(events):
        names = event.get("installations", ())
        if event["kind"] == "fail":
            state.failed.update(names)
        elif event["kind"] == "early":
            for name in names:
                state.waits.pop(name, None)
        elif event["kind"] == "done":
            state.done.update((event["step"], name) for name in names)
            step = steps[event["step"] - 1]
            if step.wait_s:
                until = datetime.fromisoformat(event["at"]) + timedelta(seconds=step.wait_s)
                state.waits.update(dict.fromkeys(names, (until, step.wait_for or step.stage)))
    return state
