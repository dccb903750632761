"""The tasks of a run: what is done for several gauges one after the other is one task, as far as their surfaces keep.

The schedule takes one gauge after the other. At the bench all of a round are wiped, then all are abraded, and so on.
A round is no larger than its last surface may wait, than its cup serves, and than the schedule has on one day. What
follows at once on the step before it stays with its own gauge, and what shares an oven goes in together.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple

from kb.planning.procedure import Step
from kb.quantities.calendar import DAY
from kb.quantities.timeline import Timeline
from kb.quantities.workday import defaults


class Task(NamedTuple):
    """Steps (places in the procedure) that are done in one go for some installations (counted from 1).

    `start_min` is when the schedule has the last of them there. `whole`: all of them, or none of them yet. `attended`:
    a short clock before it keeps its person, since a surface lies bare, or it follows at once.
    """

    steps: tuple[int, ...]
    installations: tuple[int, ...]
    start_min: float
    whole: bool = False
    attended: bool = False


class _Unit(NamedTuple):
    """Steps that one gauge goes through without a break, and the blocks of gauges that gather before them."""

    steps: tuple[int, ...]
    blocks: tuple[tuple[int, ...], ...]
    whole: bool


def tasks(found: Timeline, steps: Sequence[Step]) -> list[Task]:
    """Give what is to be done, in an order that keeps each gauge's steps and follows the schedule as a whole."""
    begun = {(step, row.installation): row.start_min for row in found.rows() for step in row.steps}
    units = list(_units(found, steps))
    placed: list[tuple[float, int, list[Task]]] = []
    reached: dict[int, float] = {}
    for place, chunk in enumerate(_chunks(units)):
        for block in chunk[0].blocks:
            # A block comes after all that its gauges went through before, wherever the schedule has it.
            at = max(*(begun[chunk[0].steps[0], one] for one in block), *(reached.get(one, 0.0) for one in block), 0.0)
            placed.append((at, place, [task for unit in chunk for task in _of(unit, block, at, steps)]))
            reached |= dict.fromkeys(block, at)
    return [task for _, _, listed in sorted(placed, key=lambda one: one[:2]) for task in listed]


def _of(unit: _Unit, block: tuple[int, ...], at: float, steps: Sequence[Step]) -> Iterator[Task]:
    """Give the tasks of one block: a single step for all of them, or gauge by gauge what follows at once."""
    bonded = _bonded(steps)
    if len(unit.steps) == 1:
        yield Task(unit.steps, block, at, unit.whole, unit.steps[0] <= bonded)
        return
    for one in block:
        together: tuple[int, ...] = ()
        for step in unit.steps:
            together += (step,)
            # A clock, and what is measured, ends a task.
            if steps[step].wait_s or steps[step].limit or step == unit.steps[-1]:
                yield Task(together, (one,), at, attended=together[0] <= bonded or steps[together[0]].at_once)
                together = ()


def _chunks(units: Sequence[_Unit]) -> Iterator[list[_Unit]]:
    """Units that follow each other with the same blocks: a block goes through all of them before the next begins.

    An oven's stay is a chunk of its own: what comes after it has its own time in the schedule.
    """
    chunk: list[_Unit] = []
    for unit in units:
        if chunk and (chunk[0].blocks, chunk[0].whole) != (unit.blocks, unit.whole):
            yield chunk
            chunk = []
        chunk.append(unit)
    if chunk:
        yield chunk


def _units(found: Timeline, steps: Sequence[Step]) -> Iterator[_Unit]:
    blocks = _blocks(found, steps)
    heated = {
        step: leg
        for leg, parts in enumerate(found.route.wait)
        for part in parts
        for step in part.steps
        if found.campaign.route[leg].oven
    }
    everybody = range(found.campaign.number)
    loads = tuple(dict.fromkeys(tuple(n + 1 for n in found.campaign.load_of(one)) for one in everybody))
    tied: list[int] = []
    for place in range(len(steps)):
        tied.append(place)
        if place + 1 < len(steps) and steps[place + 1].at_once:
            continue
        yield _Unit(tuple(tied), loads, True) if place in heated else _Unit(tuple(tied), blocks(tied[0]), False)
        tied = []


def _blocks(found: Timeline, steps: Sequence[Step]) -> Callable[[int], tuple[tuple[int, ...], ...]]:
    """Tell by step the blocks of gauges that gather before it."""
    days: dict[int, list[int]] = {}
    first = {work.installation + 1: work.start // DAY for work in reversed(found.schedule.works)}
    for one, day in sorted(first.items()):
        days.setdefault(day, []).append(one)
    bonded = _bonded(steps)
    sizes = {stage: _size(found, stage) for stage in ("mount", "protect")}

    def blocks(place: int) -> tuple[tuple[int, ...], ...]:
        stage = "mount" if place <= bonded else "" if steps[place].proves else steps[place].stage
        size = sizes.get(stage, found.campaign.number)
        return tuple(
            tuple(gauges[since : since + size]) for gauges in days.values() for since in range(0, len(gauges), size)
        )

    return blocks


def _bonded(steps: Sequence[Step]) -> int:
    """Give the place of the last step of the bond."""
    return max((place for place, step in enumerate(steps) if step.stage == "mount"), default=-1)


def _size(found: Timeline, stage: str) -> int:
    """Tell how many gauges may gather before a stage that covers a bare surface: the last still within its time."""
    sizes = [found.campaign.number]
    spent, before = 0, 0
    for leg, parts in zip(found.campaign.route, found.route.work, strict=True):
        for part in parts:
            if part.stage != stage:
                before = part.seconds
                continue
            # A bond is one cover in however many sittings, after the last wipe; each coat is a cover of its own.
            spent = spent + part.seconds + (0 if spent else before) if stage == "mount" else max(spent, part.seconds)
            if leg.cup is not None:
                sizes.append(leg.group if leg.group > 1 else leg.cup.serves)
    if spent:
        keeps_s = found.route.keeps_s if stage == "mount" else defaults()["hands"]["prepared_keeps_min"] * 60
        sizes.append(keeps_s // spent)
    return max(1, min(sizes))
