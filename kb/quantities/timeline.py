"""When a job's work is done, by whom, and when it is ready: so many installations on a bench with its hours."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta
from functools import cached_property
from typing import NamedTuple

from kb.base.errors import BadInput
from kb.engine.chain import Chain
from kb.engine.plan import Plan
from kb.quantities.route import Part, Route, defaults, route
from kb.quantities.schedule import DAY, Calendar, Campaign, Schedule, greedy, savings

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_QUARTER = 900
#: More than so many installations are no campaign of one bench, and would take minutes to schedule.
MOST = 200_000


@dataclass(frozen=True)
class Bench:
    """What the work is done with, and when people are there. What is left out is the job's or workday.toml's.

    `hours` is "8-16:30", `days` "mon-fri" or "mon,wed,sat". BadInput where either can't be read.
    """

    technicians: int | None = None
    ovens: int | None = None
    oven_holds: int | None = None
    clamps: int | None = None
    hours: str | None = None
    days: str | None = None

    def calendar(self, start: datetime | None) -> Calendar:
        """Working hours from the day of `start`; without one, from the first working day of a week."""
        usual = defaults()["hours"]
        opens, closes = _hours(self.hours or f"{usual['opens']}-{usual['closes']}")
        days = _days(self.days or ",".join(usual["days"]))
        return Calendar(opens, closes, days, min(days) if start is None else start.weekday())


def _hours(words: str) -> tuple[int, int]:
    """Seconds of the day at which work begins and ends.

    >>> _hours("8-16:30")
    (28800, 59400)
    """
    found = []
    for clock in words.split("-"):
        hour, _, minute = clock.strip().partition(":")
        if not hour.isdecimal() or not (minute or "0").isdecimal() or int(minute or 0) > 59:
            break
        found.append(int(hour) * 3600 + int(minute or 0) * 60)
    if len(found) != 2 or not 0 <= found[0] < found[1] <= DAY:
        raise BadInput("--hours", f"'{words}' is not a span of hours of a day", "such as 8-16:30")
    return found[0], found[1]


def _days(words: str) -> frozenset[int]:
    """Working days, Monday being 0.

    >>> sorted(_days("mon-wed,sat"))
    [0, 1, 2, 5]
    """
    found: set[int] = set()
    for piece in words.lower().split(","):
        first, dash, last = (p.strip()[:3] for p in piece.partition("-"))
        if first not in WEEKDAYS or (dash and last not in WEEKDAYS):
            raise BadInput("--days", f"'{words}' are not days of the week", "such as mon-fri or mon,wed,sat")
        begin, end = WEEKDAYS.index(first), WEEKDAYS.index(last if dash else first)
        found.update(day % 7 for day in range(begin, end + 1 if end >= begin else end + 8))
    return frozenset(found)


class Row(NamedTuple):
    """One bar of the picture. Minutes from the start; `who` None while it waits, `oven` counts from 1."""

    start_min: float
    end_min: float
    stage: str
    installation: int
    who: str | None
    oven: int | None


@dataclass(frozen=True)
class Timeline:
    """A schedule with its bench. `start` None: the day isn't known, only the hour; `first_s` is when work begins."""

    route: Route
    campaign: Campaign
    calendar: Calendar
    schedule: Schedule
    first_s: int
    start: datetime | None
    remarks: tuple[str, ...] = ()

    @property
    def ready_after_min(self) -> float:
        return (self.schedule.end - self.first_s) / 60

    @property
    def ready_at(self) -> datetime | None:
        return None if self.start is None else self.moment(self.schedule.end)

    def moment(self, seconds: int) -> datetime:
        """The date and time of so many seconds after the first midnight. Needs a start."""
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

    def rows(self) -> Iterator[Row]:
        """A row for each stage of each installation, in the order of their starts."""
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
            yield Row(start, end, part.stage, installation + 1, who, None if oven is None else oven + 1)


def timeline(
    plan: Plan,
    chain: Chain,
    attempts: int,
    bench: Bench = Bench(),
    start: datetime | None = None,
    deadline: datetime | None = None,
) -> Timeline:
    """The schedule of `attempts` installations of `chain`, from `start` on, or so that it is ready by `deadline`.

    Without either it begins when work opens on the day that the job is planned on, or on a day that isn't known.
    BadInput where a piece of work fits into no working day, or the bench can't be as asked.
    """
    if attempts > MOST:
        raise BadInput("batch", f"{attempts} installations are more than can be scheduled", "split the campaign")
    found = route(plan, chain)
    campaign = _campaign(plan, found, attempts, bench)
    try:
        if deadline is not None:
            start = _start_by(campaign, bench, deadline)
        elif start is None and plan.job.job.planned_on is not None:
            start = datetime.combine(plan.job.job.planned_on, time())
        calendar = bench.calendar(start)
        first = calendar.earliest(0 if start is None else _of_day(start), 0)
        schedule = greedy(campaign, calendar, first)
    except ValueError as fault:
        raise BadInput("--hours", str(fault), "give longer working hours") from None
    return Timeline(
        route=found,
        campaign=campaign,
        calendar=calendar,
        schedule=schedule,
        first_s=first,
        start=start,
        remarks=tuple(_remarks(schedule, chain)),
    )


def _campaign(plan: Plan, found: Route, attempts: int, bench: Bench) -> Campaign:
    """Parts go into an oven whole; where there are fewer clamps than a load has gauges, it is smaller."""
    usual = defaults()["resources"]
    load = (bench.oven_holds or usual["oven_holds"]) * plan.job.batch.gauges_per_board
    try:
        return Campaign(
            route=found.legs,
            number=attempts,
            people=bench.technicians or plan.job.batch.technicians,
            ovens=bench.ovens or usual["ovens"],
            clamps=bench.clamps,
            load=min(load, attempts, bench.clamps or load),
        )
    except ValueError as fault:
        raise BadInput("bench", str(fault), "give more of them") from None


def _of_day(moment: datetime) -> int:
    return moment.hour * 3600 + moment.minute * 60 + moment.second


def _start_by(campaign: Campaign, bench: Bench, deadline: datetime) -> datetime:
    """The latest start found, to the quarter of an hour, from which all is ready by `deadline`.

    Each that is returned has been scheduled. The day is looked for backwards, and then the hour within it.
    """

    def ready(start: datetime) -> datetime:
        calendar = bench.calendar(start)
        first = calendar.earliest(_of_day(start), 0)
        end = greedy(campaign, calendar, first).end
        return datetime.combine(start.date(), time()) + timedelta(seconds=end)

    midnight = datetime.combine(deadline.date(), time())
    day = midnight
    while (late := ready(day) - deadline) > timedelta():
        day -= max(timedelta(days=1), timedelta(days=late.days))
    # A stride may have gone past a day that does as well: weekends make the way longer or shorter.
    while day < midnight and ready(day + timedelta(days=1)) <= deadline:
        day += timedelta(days=1)
    quarters = range(DAY // _QUARTER)
    low, high = quarters[0], quarters[-1]
    while low < high:
        middle = (low + high + 1) // 2
        if ready(day + timedelta(seconds=middle * _QUARTER)) <= deadline:
            low = middle
        else:
            high = middle - 1
    begin = day + timedelta(seconds=low * _QUARTER)
    return day + timedelta(seconds=bench.calendar(begin).earliest(_of_day(begin), 0))


def _remarks(schedule: Schedule, chain: Chain) -> Iterator[str]:
    entry = chain.pick("treatment").entry
    if schedule.late and entry is not None:
        yield (
            f"{schedule.late} installations are bonded later than {entry.facts['lasts_h']:g} h after {entry.name}: "
            "treat fewer at a time, or treat them again"
        )


def exact(found: Timeline, effort: float = 1.0) -> Timeline | None:
    """The same with the best schedule that a solver finds with that `effort` (roughly seconds).

    None where the solver isn't installed, or the campaign is too large for it.
    """
    from kb.quantities.exact import best

    schedule = best(found.campaign, found.calendar, found.first_s, found.schedule, effort)
    return None if schedule is None else replace(found, schedule=schedule)
