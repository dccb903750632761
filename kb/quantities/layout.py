"""Lay a job's installations out on the clock: so many attempts of a chain, on a bench with its people and hours."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import datetime, time, timedelta
from math import fsum

from kb import calc
from kb.base.errors import BadInput
from kb.engine.chain import Chain
from kb.engine.plan import Plan
from kb.job import Batch
from kb.quantities.calendar import DAY
from kb.quantities.campaign import Campaign
from kb.quantities.mixes import Mix, Poured, Recipe, mix_of, recipe_of
from kb.quantities.route import Route, route
from kb.quantities.schedule import Schedule, greedy
from kb.quantities.timeline import Hours, Timeline
from kb.quantities.usage import uses
from kb.quantities.workday import Workday, defaults

_QUARTER = 900

#: More than so many installations are no campaign of one bench, and would take minutes to schedule.
MOST = 200_000


def hours_of(plan: Plan, chain: Chain) -> Hours:
    """Lay out the job's attempts of a chain with the bench as it usually is: what every answer says of its time."""
    attempts = attempts_of(plan.job.batch, plan.yield_of(chain))
    key = ("hours", chain.key, attempts)
    if key not in plan.worked_out:
        plan.worked_out[key] = timeline(plan, chain, attempts).hours
    found: Hours = plan.worked_out[key]
    return found


def attempts_of(batch: Batch, expected_yield: float | None = None) -> int:
    """Reckon how many installations to attempt, so that enough come out good with the job's confidence.

    BadInput where more would be needed than can be counted.
    """
    good = batch.boards * batch.gauges_per_board
    try:
        return int(calc.function("spares")(good, expected_yield or batch.expected_yield, batch.confidence)["attempts"])
    except ValueError as fault:
        raise BadInput("batch", str(fault), "split the campaign, or look into the yield first") from None


def timeline(
    plan: Plan,
    chain: Chain,
    attempts: int,
    workday: Workday = Workday(),
    start: datetime | None = None,
    deadline: datetime | None = None,
) -> Timeline:
    """Give the schedule of `attempts` installations of `chain`, from `start` on, or so that it is ready by `deadline`.

    Without either it begins when work opens on the day that the job is planned on, or on a day that isn't known.
    BadInput where a piece of work fits into no working day, or the bench can't be as asked.
    """
    if attempts > MOST:
        raise BadInput("batch", f"{attempts} installations are more than can be scheduled", "split the campaign")
    recipes = {recipe.entry.id: recipe for recipe in recipes_of(plan, chain)}
    plain = route(plan, chain)
    ways: list[Mapping[str, int]] = [{}]
    together = _together(plain, recipes, workday.technicians or plan.job.batch.technicians, attempts)
    if any(size > 1 for size in together.values()):
        ways.append(together)
    laid_out = [_laid_out(plan, chain, plain, way, recipes, attempts, workday, start, deadline) for way in ways]
    return min(laid_out, key=lambda found: (found.schedule.late, _thrown(found), found.schedule.end))


def recipes_of(plan: Plan, chain: Chain) -> Iterator[Recipe]:
    """Make the recipe of everything in the chain that is mixed of two parts."""
    figures = plan.knowledge.tables["usage"]["mixing"]
    entries = [e for option in chain.picks if (e := option.entry) is not None and e.facts.get("parts") == 2]
    used = uses(plan, chain) if entries else []
    for entry in {entry.id: entry for entry in entries}.values():
        rows = [use for use in used if use.entry.id == entry.id and use.per == "attempt" and use.unit == "g"]
        if rows:
            # What is put on twice is mixed for each coat.
            each_g = fsum(use.each for use in rows) / entries.count(entry)
            yield recipe_of(entry, rows[0].stage, figures, each_g, plan.job.bench.air_temperature_c)


def _together(plain: Route, recipes: Mapping[str, Recipe], people: int, attempts: int) -> dict[str, int]:
    """Tell by item how many installations may gather before a cup of it: no more are prepared ahead than keep."""
    found: dict[str, int] = {}
    for leg, (needed, item) in enumerate(zip(plain.legs, plain.mixes, strict=True)):
        if item is not None and item in recipes and item not in found:
            found[item] = recipes[item].together(needed.work, people, attempts)
            before = plain.legs[leg - 1].work if leg else 0
            if needed.within is not None and before:
                found[item] = min(found[item], 1 + people * (needed.within // before))
    return found


def _laid_out(
    plan: Plan,
    chain: Chain,
    plain: Route,
    groups: Mapping[str, int],
    recipes: Mapping[str, Recipe],
    attempts: int,
    workday: Workday,
    start: datetime | None,
    deadline: datetime | None,
) -> Timeline:
    """Give the schedule with so many installations to a cup of each item, and the cups that it comes to."""
    found = plain.gathered({item: recipe.cup() for item, recipe in recipes.items()}, groups)
    campaign = _campaign(plan, found, attempts, workday)
    try:
        if deadline is not None:
            start = _start_by(campaign, workday, deadline)
        elif start is None and plan.job.job.planned_on is not None:
            start = datetime.combine(plan.job.job.planned_on, time())
        calendar = workday.calendar(start)
        first = calendar.earliest(0 if start is None else _of_day(start), 0)
        schedule = greedy(campaign, calendar, first)
    except ValueError as fault:
        raise BadInput("--hours", str(fault), "give longer working hours") from None
    within_h = plan.job.limits.ready_within_h
    return Timeline(
        route=found,
        campaign=campaign,
        calendar=calendar,
        schedule=schedule,
        first_s=first,
        start=start,
        mixes=tuple(_mixes(found, schedule, recipes)),
        limit_min=None if within_h is None else within_h * 60,
        remarks=tuple(_remarks(schedule, chain)),
    )


def _mixes(found: Route, schedule: Schedule, recipes: Mapping[str, Recipe]) -> Iterator[Mix]:
    """Give the cups of each item, leg by leg: what is coated twice is mixed for each coat."""
    for item, recipe in recipes.items():
        legs = [leg for leg, mixed in enumerate(found.mixes) if mixed == item]
        cups = [Poured(*cup) for leg in legs for cup in schedule.cups(leg, found.legs[leg].work)]
        if cups:
            yield mix_of(recipe, cups)


def _thrown(found: Timeline) -> float:
    return fsum(mix.thrown_away_g for mix in found.mixes)


def _campaign(plan: Plan, found: Route, attempts: int, workday: Workday) -> Campaign:
    """Make the campaign; parts go into an oven whole, and a load is no larger than there are clamps."""
    usual, within_h = defaults()["resources"], plan.job.limits.ready_within_h
    load = (workday.oven_holds or usual["oven_holds"]) * plan.job.batch.gauges_per_board
    try:
        return Campaign(
            route=found.legs,
            number=attempts,
            people=workday.technicians or plan.job.batch.technicians,
            ovens=workday.ovens or usual["ovens"],
            clamps=workday.clamps,
            load=min(load, attempts, workday.clamps or load),
            within=None if within_h is None else round(within_h * 3600),
        )
    except ValueError as fault:
        raise BadInput("bench", str(fault), "give more of them") from None


def _of_day(moment: datetime) -> int:
    return moment.hour * 3600 + moment.minute * 60 + moment.second


def _start_by(campaign: Campaign, workday: Workday, deadline: datetime) -> datetime:
    """Give the latest start found, to the quarter of an hour, from which all is ready by `deadline`.

    Each that is returned has been scheduled. The day is looked for backwards, and then the hour within it.
    """

    def ready(start: datetime) -> datetime:
        calendar = workday.calendar(start)
        first = calendar.earliest(_of_day(start), 0)
        _, end = greedy(campaign, calendar, first).ready(campaign.route)
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
    return day + timedelta(seconds=workday.calendar(begin).earliest(_of_day(begin), 0))


def _remarks(schedule: Schedule, chain: Chain) -> Iterator[str]:
    entry = chain.pick("treatment").entry
    if not schedule.late:
        return
    if entry is not None and "lasts_h" in entry.facts:
        yield (
            f"{schedule.late} installations are bonded later than {entry.facts['lasts_h']:g} h after {entry.name}: "
            "treat fewer at a time, or treat them again"
        )
    else:
        keeps = defaults()["hands"]["prepared_keeps_min"]
        late = "1 prepared surface waits" if schedule.late == 1 else f"{schedule.late} prepared surfaces wait"
        yield f"{late} more than {keeps:g} min for the bond: wipe once more"


def exact(found: Timeline, effort: float = 1.0) -> Timeline | None:
    """Give the same with the best schedule that a solver finds with that `effort` (roughly seconds).

    None where the solver isn't installed, or the campaign is too large for it.
    """
    from kb.quantities.exact import best

    schedule = best(found.campaign, found.calendar, found.first_s, found.schedule, effort)
    return None if schedule is None else replace(found, schedule=schedule)
