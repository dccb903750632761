"""Many installations of one route through few hands, ovens and clamps: who does what when.

A route is a row of legs. In each a person works on one installation without a break, and then it waits by itself:
on the bench, in an oven together with its load, or in a clamp that it keeps from the work's start to the wait's end.
Hands work within working hours, and an oven is loaded within them; waits run through the night.

`greedy` starts whatever can be started, whenever anything can: what is nearest to its end first, so that bonds don't
lie about without their coats, and of the last few oven loads what is furthest from it, so that nobody stands idle while
they cure. Times are whole seconds after the midnight before the first day.

>>> from kb.quantities.campaign import Leg
>>> campaign = Campaign((Leg(600, 7200), Leg(300)), number=2)
>>> schedule = greedy(campaign, Calendar())
>>> [(work.start, work.end) for work in schedule.works], schedule.end
([(0, 600), (600, 1200), (7800, 8100), (8400, 8700)], 8700)
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import NamedTuple

from kb.quantities.calendar import Calendar
from kb.quantities.campaign import Campaign, Leg

#: Schedules end at the same time, as far as a bench can tell, within so many seconds, or such a share of all that time.
ABOUT_S, ABOUT_SHARE = 3600, 0.05
#: Of so many oven loads at the end, what is to be done first is done first.
LAST_LOADS = (1, 2, 3)


class Work(NamedTuple):
    """A stretch of work; `person` counts from 0, as installations and legs do."""

    installation: int
    leg: int
    person: int
    start: int
    end: int


class Stay(NamedTuple):
    """A wait; `oven` is None on the bench."""

    installation: int
    leg: int
    oven: int | None
    start: int
    end: int


class Schedule(NamedTuple):
    """Works and waits in the order of their starts, and how many were begun later than their surface allows."""

    works: tuple[Work, ...]
    stays: tuple[Stay, ...]
    late: int = 0

    def cups(self, leg: int, work_s: int) -> list[tuple[int, int, int]]:
        """List the cups of a leg: (its stir begins, the last work out of it ends, how many it served).

        `work_s` is the leg's work without a stir: what took longer opened a cup.
        """
        found: list[tuple[int, int, int]] = []
        for work in self.works:
            if work.leg == leg:
                if work.end - work.start > work_s:
                    found.append((work.start, work.end, 1))
                else:
                    opened, done, served = found[-1]
                    found[-1] = opened, max(done, work.end), served + 1
        return found

    def ready(self, route: Sequence[Leg]) -> tuple[int, int]:
        """Tell when the first installation of a route may be measured, and when all may: all is done but proof."""
        ready: dict[int, int] = {}
        for work in self.works:
            if (proof := route[work.leg].proof) < work.end - work.start:
                ready[work.installation] = max(ready.get(work.installation, 0), work.end - proof)
        for stay in self.stays:
            ready[stay.installation] = max(ready.get(stay.installation, 0), stay.end)
        return min(ready.values(), default=0), max(ready.values(), default=0)

    @property
    def end(self) -> int:
        return max((*(work.end for work in self.works), *(stay.end for stay in self.stays)), default=0)


def greedy(campaign: Campaign, calendar: Calendar, start: int = 0) -> Schedule:
    """Give the best of a few list schedules: finish first, begin first, or finish first but for the last few loads.

    Of those in which all are ready at about the same time, and within the limit if any is, the one whose first is ready
    soonest.
    Deterministic. Raises ValueError where a leg's work fits into no working day.
    """
    longest = max((leg.longest for leg in campaign.route), default=0)
    if longest > calendar.longest:
        raise ValueError(f"{longest / 60:g} min of work fit into no working day")
    number = campaign.number
    turns = sorted({0, number + 1, *(max(0, number - loads * campaign.load) for loads in LAST_LOADS)})
    schedules = [_Run(campaign, calendar, turn).run(start) for turn in turns]
    late = min(schedule.late for schedule in schedules)
    found = [(schedule, *schedule.ready(campaign.route)) for schedule in schedules if schedule.late == late]
    soonest = min(last for _, _, last in found)
    about = soonest + max(ABOUT_S, ABOUT_SHARE * (soonest - start))
    if campaign.within is not None and soonest <= start + campaign.within:
        about = min(about, start + campaign.within)
    alike = [row for row in found if row[2] <= about]
    return min(alike, key=lambda row: (row[1], row[2], row[0].end))[0]


class _Run:
    """The state of one run: what is ready, who is free, and the moments at which something may change."""

    def __init__(self, campaign: Campaign, calendar: Calendar, turn: int) -> None:
        """Finish first until `turn` installations are begun; from then on begin first. What is ready is proved last."""
        self.campaign, self.calendar = campaign, calendar
        self.turn, self.begun = turn, 0
        legs = range(len(campaign.route))
        self.orders = (*legs[: campaign.readying][::-1], *legs[campaign.readying :]), tuple(legs)
        self.ready: list[list[int]] = [[] for _ in campaign.route]
        self.arrivals: list[tuple[int, int, int]] = []
        self.wakes: list[int] = []
        self.idle = list(range(campaign.people))
        self.busy: list[tuple[int, int]] = []
        self.ovens = [(0, oven) for oven in range(campaign.ovens)]
        self.loading: list[tuple[int, int, int]] = []
        self.gathered: dict[tuple[int, int], tuple[int, int]] = {}
        self.come: dict[tuple[int, int], int] = {}
        #: By leg the cup that is open: when its stir began, and how many it has served.
        self.open: dict[int, tuple[int, int]] = {}
        self.clamped = 0
        self.unclamp: list[int] = []
        self.next_clamped = 0
        self.arrived: dict[tuple[int, int], int] = {}
        self.works: list[Work] = []
        self.stays: list[Stay] = []
        self.late = 0

    def run(self, start: int) -> Schedule:
        self.arrivals = [(start, installation, 0) for installation in range(self.campaign.number)]
        self.wakes = [start]
        while self.wakes:
            now = heapq.heappop(self.wakes)
            while self.wakes and self.wakes[0] == now:
                heapq.heappop(self.wakes)
            self._settle(now)
            self._fill_ovens(now)
            while self._begin_work(now):
                pass
        return Schedule(
            tuple(self.works), tuple(sorted(self.stays, key=lambda s: (s.start, s.installation))), self.late
        )

    def _settle(self, now: int) -> None:
        """Take in what has happened up to `now`."""
        while self.busy and self.busy[0][0] <= now:
            heapq.heappush(self.idle, heapq.heappop(self.busy)[1])
        while self.unclamp and self.unclamp[0] <= now:
            heapq.heappop(self.unclamp)
            self.clamped -= 1
        while self.arrivals and self.arrivals[0][0] <= now:
            at, installation, leg = heapq.heappop(self.arrivals)
            if leg < len(self.campaign.route):
                self.arrived[installation, leg] = at
                if self.campaign.route[leg].work:
                    self._come(installation, leg)
                else:
                    self._wait(installation, leg, at)

    def _come(self, installation: int, leg: int) -> None:
        """Note that an installation has come so far; those that begin together are ready when the last of them is."""
        group = self.campaign.group_of(installation, leg)
        there = self.come[group.start, leg] = self.come.get((group.start, leg), 0) + 1
        if there == len(group):
            for one in group:
                heapq.heappush(self.ready[leg], one)

    def _begin_work(self, now: int) -> bool:
        if not self.idle:
            return False
        for leg in self.orders[self.begun >= self.turn]:
            if not self.ready[leg]:
                continue
            needed = self.campaign.route[leg]
            installation = self.ready[leg][0]
            stirred = self._stirred(leg, now)
            if stirred > now:
                heapq.heappush(self.wakes, stirred)
                continue
            hands = needed.work if self._serves(leg, now) else needed.longest
            fits = self.calendar.earliest(now, hands)
            if fits > now:
                heapq.heappush(self.wakes, fits)
                continue
            limited = needed.clamp and self.campaign.clamps is not None
            # Clamps are given out in order, so that the load which is furthest on always gets whole.
            if limited and (installation != self.next_clamped or self.clamped == self.campaign.clamps):
                continue
            heapq.heappop(self.ready[leg])
            if limited:
                self.next_clamped += 1
                self.clamped += 1
            person, end = heapq.heappop(self.idle), now + hands
            heapq.heappush(self.busy, (end, person))
            heapq.heappush(self.wakes, end)
            self.works.append(Work(installation, leg, person, now, end))
            self.begun += leg == 0
            self.late += needed.within is not None and now - self.arrived[installation, leg] > needed.within
            if needed.cup is not None:
                opened, served = self.open[leg] if hands == needed.work else (now, 0)
                self.open[leg] = opened, served + 1
            self._wait(installation, leg, end)
            return True
        return False

    def _stirred(self, leg: int, now: int) -> int:
        """Tell when a cup that is being stirred for a leg can be used; `now` where none is, or it is spoken for."""
        cup = self.campaign.route[leg].cup
        if cup is None or leg not in self.open:
            return now
        opened, served = self.open[leg]
        return max(now, opened + cup.stir) if served < cup.serves and cup.life > cup.stir else now

    def _serves(self, leg: int, now: int) -> bool:
        """Tell whether the cup that is open for a leg will do for a work that begins now."""
        needed = self.campaign.route[leg]
        if needed.cup is None or leg not in self.open:
            return needed.cup is None
        opened, served = self.open[leg]
        return served < needed.cup.serves and opened + needed.cup.stir <= now <= opened + needed.cup.life - needed.work

    def _wait(self, installation: int, leg: int, since: int) -> None:
        needed = self.campaign.route[leg]
        if not (needed.oven and needed.wait):
            self._leave(installation, leg, None, since)
            return
        load = self.campaign.load_of(installation)
        there, last = self.gathered.pop((load.start, leg), (0, 0))
        there, last = there + 1, max(last, since)
        if there < len(load):
            self.gathered[load.start, leg] = there, last
            return
        heapq.heappush(self.loading, (last, load.start, leg))
        heapq.heappush(self.wakes, last)

    def _fill_ovens(self, now: int) -> None:
        while self.loading and self.loading[0][0] <= now:
            free, oven = self.ovens[0]
            possible = self.calendar.earliest(max(now, free), 0)
            if possible > now:
                heapq.heappush(self.wakes, possible)
                return
            _, first, leg = heapq.heappop(self.loading)
            heapq.heapreplace(self.ovens, (now + self.campaign.route[leg].wait, oven))
            for installation in self.campaign.load_of(first):
                self._leave(installation, leg, oven, now)

    def _leave(self, installation: int, leg: int, oven: int | None, start: int) -> None:
        needed = self.campaign.route[leg]
        end = start + needed.wait
        if needed.wait:
            self.stays.append(Stay(installation, leg, oven, start, end))
        if needed.clamp and self.campaign.clamps is not None:
            heapq.heappush(self.unclamp, end)
        heapq.heappush(self.arrivals, (end, installation, leg + 1))
        heapq.heappush(self.wakes, end)


def savings(campaign: Campaign, calendar: Calendar, start: int = 0) -> Iterator[tuple[str, int]]:
    """Tell by how many seconds one more of each resource brings the end forward, by scheduling again.

    Never below 0: whoever has one more can leave it idle, though a list schedule may do worse with it.
    """
    now = greedy(campaign, calendar, start).end
    more = {"technician": replace(campaign, people=campaign.people + 1)}
    if any(leg.oven for leg in campaign.route):
        more["oven"] = replace(campaign, ovens=campaign.ovens + 1)
    if campaign.clamps is not None and any(leg.clamp for leg in campaign.route):
        more["clamp"] = replace(campaign, clamps=campaign.clamps + 1)
    for resource, richer in more.items():
        yield resource, max(0, now - greedy(richer, calendar, start).end)
