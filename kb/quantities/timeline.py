"""When a job's work is done, by whom, and when it is ready: so many installations on a bench with its hours."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from functools import cached_property
from typing import NamedTuple

from kb.quantities.calendar import Calendar
from kb.quantities.campaign import Campaign
from kb.quantities.mixes import Mix
from kb.quantities.route import Part, Route
from kb.quantities.schedule import Schedule, savings

_SLACK = 1e-6
#: Hours between two pieces of work of one stage that count as one stretch.
_BREAK_H = 0.5


class Row(NamedTuple):
    """One bar of the picture. Minutes from the start; `who` None while it waits, `oven` counts from 1."""

    start_min: float
    end_min: float
    stage: str
    installation: int
    who: str | None
    oven: int | None
    #: The places in the procedure of the steps that are done then.
    steps: tuple[int, ...] = ()


class Hours(NamedTuple):
    """When so many installations may be measured, in minutes from the first wipe; `limit_min` as in the timeline."""

    ready_after_min: float
    batch_ready_after_min: float
    limit_min: float | None
    number: int

    @property
    def within_limit(self) -> bool | None:
        """Whether all are ready within the job's limit; None where it has none."""
        return None if self.limit_min is None else self.batch_ready_after_min <= self.limit_min + _SLACK


@dataclass(frozen=True)
class Timeline:
    """A schedule with its bench. `start` None: the day isn't known, only the hour; `first_s` is when work begins."""

    route: Route
    campaign: Campaign
    calendar: Calendar
    schedule: Schedule
    first_s: int
    start: datetime | None
    mixes: tuple[Mix, ...] = ()
    #: Minutes in which all is to be ready; None without a limit.
    limit_min: float | None = None
    remarks: tuple[str, ...] = ()

    @property
    def ready_after_min(self) -> float:
        """Minutes from the first wipe until the first installation may be measured, all but its proof done."""
        return (self._ready[0] - self.first_s) / 60

    @property
    def batch_ready_after_min(self) -> float:
        """The same for all installations."""
        return (self.all_ready_s - self.first_s) / 60

    @property
    def all_ready_s(self) -> int:
        """The second at which all may be measured."""
        return self._ready[1]

    @property
    def longest_chain_min(self) -> float:
        """Minutes until one installation may be measured that never waits for anybody."""
        return (self.campaign.chain_s - sum(leg.proof for leg in self.campaign.route)) / 60

    @property
    def hours(self) -> Hours:
        """What most answers say of it."""
        return Hours(self.ready_after_min, self.batch_ready_after_min, self.limit_min, self.campaign.number)

    @cached_property
    def _ready(self) -> tuple[int, int]:
        return self.schedule.ready(self.campaign.route)

    def moment(self, seconds: int) -> datetime:
        """Give the date and time of so many seconds after the first midnight. Needs a start."""
        assert self.start is not None
        return datetime.combine(self.start.date(), time()) + timedelta(seconds=seconds)

    @cached_property
    def savings(self) -> Mapping[str, float]:
        """Minutes that one more of each resource would save."""
        return {name: saved / 60 for name, saved in savings(self.campaign, self.calendar, self.first_s)}

    @property
    def held_up_by(self) -> str | None:
        """The resource of which one more saves most; None where none would save anything."""
        name, saved = max(self.savings.items(), key=lambda item: item[1])
        return name if saved > 0 else None

    def stretches(self) -> dict[str, tuple[tuple[float, float, float], ...]]:
        """Tell by stage when hands are at it: (start [h], end [h], share of all that is done at the stage).

        Hours count from the first midnight. What lies less than a break apart is one stretch.
        """
        begun_h = self.first_s / 3600
        found: dict[str, list[tuple[float, float, int]]] = {}
        for row in self.rows():
            if row.who is None:
                continue
            start, end = begun_h + row.start_min / 60, begun_h + row.end_min / 60
            known = found.setdefault(row.stage, [])
            if known and start <= known[-1][1] + _BREAK_H:
                known[-1] = known[-1][0], max(known[-1][1], end), known[-1][2] + 1
            else:
                known.append((start, end, 1))
        totals = {stage: sum(count for _, _, count in rows) for stage, rows in found.items()}
        return {
            stage: tuple((start, end, count / totals[stage]) for start, end, count in rows)
            for stage, rows in found.items()
        }

    def rows(self) -> Iterator[Row]:
        """Give a row for each stage of each installation, in the order of their starts."""
        found = [
            row
            for work in self.schedule.works
            for row in self._parts(self.route.work[work.leg], work.start, work.installation, work.person, None)
        ] + [
            row
            for stay in self.schedule.stays
            for row in self._parts(self.route.wait[stay.leg], stay.start, stay.installation, None, stay.oven)
        ]
        return iter(sorted(found, key=lambda row: (row.start_min, row.installation, row.end_min)))

    def _parts(
        self, parts: Sequence[Part], begun: int, installation: int, person: int | None, oven: int | None
    ) -> Iterator[Row]:
        who = None if person is None else f"technician-{person + 1}"
        for part in parts:
            since, begun = begun, begun + part.seconds
            start, end = ((s - self.first_s) / 60 for s in (since, begun))
            of = None if oven is None else oven + 1
            yield Row(start, end, part.stage, installation + 1, who, of, part.steps)
