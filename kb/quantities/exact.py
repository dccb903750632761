"""The same schedule by a solver (OR-Tools CP-SAT, the optional extra `schedule`): to see what greed costs.

One worker, a fixed seed and a deterministic bound on its effort: the same campaign gives the same schedule.
"""

from __future__ import annotations

import heapq
from collections.abc import Mapping
from importlib.util import find_spec
from typing import Any

from kb.quantities.calendar import Calendar
from kb.quantities.campaign import Campaign
from kb.quantities.schedule import Schedule, Stay, Work

#: With so many pieces of work it is done in a moment; beyond the second figure it finds nothing better in good time.
QUICK, MOST = 60, 400


def installed() -> bool:
    """Tell whether the solver is there."""
    return find_spec("ortools") is not None


def best(campaign: Campaign, calendar: Calendar, start: int, known: Schedule, effort: float) -> Schedule | None:
    """Give the shortest schedule found from `start` on, no longer than `known`, which it sets out from.

    Who is served from which cup stays as it is in `known`.

    `effort` is roughly seconds. None where the solver isn't installed, or the campaign too large for it.
    """
    if not installed() or campaign.number * len(campaign.route) > MOST:
        return None
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    hands = {(work.installation, work.leg): work.end - work.start for work in known.works}
    works, stays = _variables(model, campaign, calendar, start, known, hands)
    end = model.new_int_var(start, known.end, "end")
    _keep_order(model, campaign, works, stays, hands, end, fresh=not known.late)
    _keep_cups(model, campaign, works, known)
    _share(model, campaign, works, stays, hands, known.end)
    model.minimize(end)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_deterministic_time = effort
    if solver.solve(model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return known
    begun, stayed = ({k: solver.value(v) for k, v in kind.items()} for kind in (works, stays))
    return _schedule(campaign, begun, stayed, hands)


Variables = dict[tuple[int, int], Any]
Starts = Mapping[tuple[int, int], int]


def _variables(
    model: Any, campaign: Campaign, calendar: Calendar, start: int, known: Schedule, hands: Starts
) -> tuple[Variables, Variables]:
    """Make starts of works by installation and leg, and of waits (one for an oven's load), hinted from `known`."""
    from ortools.sat.python import cp_model

    begun = {(work.installation, work.leg): work.start for work in known.works}
    stayed = {(stay.installation, stay.leg): stay.start for stay in known.stays}
    works: Variables = {}
    stays: Variables = {}
    for leg, needed in enumerate(campaign.route):
        open_for = {
            spent: cp_model.Domain.from_intervals(_windows(calendar, start, known.end, spent))
            for spent in {needed.work, needed.longest}
        }
        to_load = cp_model.Domain.from_intervals(_windows(calendar, start, known.end, 0))
        shared: dict[int, Any] = {}
        for one in range(campaign.number):
            key = (one, leg)
            if needed.work:
                works[key] = model.new_int_var_from_domain(open_for[hands[key]], f"work {one} {leg}")
                model.add_hint(works[key], begun[key])
            if needed.wait and needed.oven:
                first = campaign.load_of(one).start
                if first not in shared:
                    shared[first] = model.new_int_var_from_domain(to_load, f"oven {first} {leg}")
                    model.add_hint(shared[first], stayed[key])
                stays[key] = shared[first]
            elif needed.wait:
                stays[key] = model.new_int_var(start, known.end, f"wait {one} {leg}")
                model.add_hint(stays[key], stayed[key])
    return works, stays


def _windows(calendar: Calendar, start: int, end: int, need: int) -> list[list[int]]:
    """Give the spans of moments at which work of so many seconds may begin."""
    found: list[list[int]] = []
    time = start
    while True:
        opens, closes = calendar.window(time)
        first, last = max(start, opens), closes - need
        if first > end:
            return found
        if first <= last:
            found.append([first, min(last, end)])
        time = closes


def _keep_order(
    model: Any, campaign: Campaign, works: Variables, stays: Variables, hands: Starts, end: Any, *, fresh: bool
) -> None:
    """Keep leg after leg, a bench wait right after its work, and with `fresh` no surface waiting too long."""
    come: dict[tuple[int, int], Any] = {}
    for one in range(campaign.number):
        done: Any = None
        for leg, needed in enumerate(campaign.route):
            come[one, leg] = done
            if needed.work:
                if done is not None:
                    model.add(works[one, leg] >= done)
                    if fresh and needed.within is not None:
                        model.add(works[one, leg] <= done + needed.within)
                done = works[one, leg] + hands[one, leg]
            if needed.wait:
                if done is not None:
                    model.add(stays[one, leg] >= done) if needed.oven else model.add(stays[one, leg] == done)
                done = stays[one, leg] + needed.wait
        if done is not None:
            model.add(end >= done)
    _gather(model, campaign, works, come)
    # Those that share an oven are alike: any order of them will do.
    for (one, leg), begin in works.items():
        if leg == 0 and one + 1 in campaign.load_of(one):
            model.add(begin <= works[one + 1, leg])


def _gather(model: Any, campaign: Campaign, works: Variables, come: Mapping[tuple[int, int], Any]) -> None:
    """Let those that begin a leg together begin when all of them have come so far."""
    for (one, leg), begin in works.items():
        for other in campaign.group_of(one, leg):
            if other != one and come[other, leg] is not None:
                model.add(begin >= come[other, leg])


def _keep_cups(model: Any, campaign: Campaign, works: Variables, known: Schedule) -> None:
    """Keep what is served from a cup after its stir and within its life."""
    opened: dict[int, Any] = {}
    for work in known.works:
        needed = campaign.route[work.leg]
        if needed.cup is None:
            continue
        begin = works[work.installation, work.leg]
        if work.end - work.start > needed.work:
            opened[work.leg] = begin
        else:
            model.add(begin >= opened[work.leg] + needed.cup.stir)
            model.add(begin <= opened[work.leg] + needed.cup.life - needed.work)


def _share(model: Any, campaign: Campaign, works: Variables, stays: Variables, hands: Starts, horizon: int) -> None:
    """Allow no more at a time than there are people, ovens and clamps."""
    busy = [
        model.new_fixed_size_interval_var(begin, hands[key], f"hands {key[0]} {key[1]}") for key, begin in works.items()
    ]
    model.add_cumulative(busy, [1] * len(busy), campaign.people)
    loads = [
        model.new_fixed_size_interval_var(begin, campaign.route[leg].wait, f"load {one} {leg}")
        for (one, leg), begin in stays.items()
        if campaign.route[leg].oven and campaign.load_of(one).start == one
    ]
    model.add_cumulative(loads, [1] * len(loads), campaign.ovens)
    if campaign.clamps is None:
        return
    held = []
    for (one, leg), begin in works.items():
        if campaign.route[leg].clamp:
            needed = campaign.route[leg]
            off = stays[one, leg] + needed.wait if needed.wait else begin + hands[one, leg]
            held.append(model.new_interval_var(begin, model.new_int_var(0, horizon, ""), off, f"clamp {one}"))
    model.add_cumulative(held, [1] * len(held), campaign.clamps)


def _schedule(campaign: Campaign, works: Starts, stays: Starts, hands: Starts) -> Schedule:
    """Give the solver's starts with people and ovens given out: whoever has been free the longest takes the next."""
    people = [(0, person) for person in range(campaign.people)]
    ovens = [(0, oven) for oven in range(campaign.ovens)]
    done, stayed = [], []
    for begin, one, leg in sorted((begin, one, leg) for (one, leg), begin in works.items()):
        finish = begin + hands[one, leg]
        person = people[0][1]
        heapq.heapreplace(people, (finish, person))
        done.append(Work(one, leg, person, begin, finish))
    place: dict[tuple[int, int], int] = {}
    for begin, one, leg in sorted((begin, one, leg) for (one, leg), begin in stays.items()):
        needed, load = campaign.route[leg], (campaign.load_of(one).start, leg)
        if needed.oven and load not in place:
            place[load] = ovens[0][1]
            heapq.heapreplace(ovens, (begin + needed.wait, place[load]))
        stayed.append(Stay(one, leg, place[load] if needed.oven else None, begin, begin + needed.wait))
    return Schedule(tuple(done), tuple(sorted(stayed, key=lambda stay: (stay.start, stay.installation))))
