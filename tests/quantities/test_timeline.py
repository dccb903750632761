"""Schedules keep every rule, lie between their bounds, and a solver's keep the same rules. Rules are checked apart."""

from __future__ import annotations

import time
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.base.errors import BadInput
from kb.engine.plan import Engine, Plan
from kb.job import job_of
from kb.knowledge import Knowledge
from kb.quantities.calendar import DAY, Calendar
from kb.quantities.campaign import Campaign, Cup, Leg
from kb.quantities.exact import best, installed
from kb.quantities.layout import exact, timeline
from kb.quantities.route import route
from kb.quantities.schedule import Schedule, Stay, Work, greedy, savings
from kb.quantities.workday import Workday, defaults
from kb.report.timeline import at, timeline_json, timeline_svg, timeline_text


def faults(campaign: Campaign, calendar: Calendar, schedule: Schedule, start: int) -> Iterable[str]:
    """Every rule that a schedule breaks, found the slow and plain way."""
    works = {(w.installation, w.leg): w for w in schedule.works}
    stays = {(s.installation, s.leg): s for s in schedule.stays}
    works_all, stays_all = dict(works), dict(stays)
    for one in range(campaign.number):
        done = start
        for leg, needed in enumerate(campaign.route):
            if needed.work:
                work = works.pop((one, leg))
                if work.start < done:
                    yield f"{work} begins before {done}"
                first = one - one % needed.group
                if work.end - work.start not in (needed.work, needed.longest):
                    yield f"{work} is not as long as it takes"
                together = range(first, min(first + needed.group, campaign.number))
                if needed.group > 1 and work.start < max(
                    come(works_all, stays_all, other, leg, start) for other in together
                ):
                    yield f"{work} begins before all are there that it goes with"
                if any(not open_at(calendar, moment) for moment in (work.start, work.end - 1)):
                    yield f"{work} is outside working hours"
                if work.start // DAY != (work.end - 1) // DAY and calendar.closes != DAY:
                    yield f"{work} goes through the night"
                done = work.end
            if needed.wait:
                stay = stays.pop((one, leg))
                if stay.end - stay.start != needed.wait or stay.start < done:
                    yield f"{stay} does not keep the wait"
                if (stay.oven is not None) != needed.oven:
                    yield f"{stay} is in the wrong place"
                if needed.oven and not open_at(calendar, stay.start):
                    yield f"{stay} is loaded by nobody"
                done = stay.end
    if works or stays:
        yield f"too much is done: {works} {stays}"
    yield from cup_faults(campaign, schedule)
    people = defaultdict(list)
    for work in schedule.works:
        people[work.person].append((work.start, work.end))
    ovens = defaultdict(set)
    for stay in schedule.stays:
        if stay.oven is not None:
            ovens[stay.oven].add((stay.start, stay.end, stay.leg, stay.installation // campaign.load))
    if set(people) - set(range(campaign.people)) or set(ovens) - set(range(campaign.ovens)):
        yield "somebody or something that isn't there"
    for who, spans in (*people.items(), *((o, [s[:2] for s in found]) for o, found in ovens.items())):
        ordered = sorted(spans)
        if any(late < end for (_, end), (late, _) in pairwise(ordered)):
            yield f"{who} is booked twice"
    if campaign.clamps is not None:
        by_stay = {(s.installation, s.leg): s for s in schedule.stays}
        held = [
            (w.start, by_stay[w.installation, w.leg].end if campaign.route[w.leg].wait else w.end)
            for w in schedule.works
            if campaign.route[w.leg].clamp
        ]
        if any(sum(a <= moment < b for a, b in held) > campaign.clamps for moment, _ in held):
            yield "a clamp is booked twice"


def cup_faults(campaign: Campaign, schedule: Schedule) -> Iterable[str]:
    """Every work out of a cup that is not stirred yet, has gelled or is empty."""
    for leg, needed in enumerate(campaign.route):
        opened, served = None, 0
        for work in (w for w in schedule.works if w.leg == leg and needed.cup is not None):
            assert needed.cup is not None
            if work.end - work.start == needed.longest:
                opened, served = work.start, 1
                continue
            served += 1
            if opened is None or not opened + needed.cup.stir <= work.start <= work.end <= opened + needed.cup.life:
                yield f"{work} is out of no cup that will do"
            if served > needed.cup.serves:
                yield f"{work} finds the cup empty"


def come(
    works: Mapping[tuple[int, int], Work], stays: Mapping[tuple[int, int], Stay], one: int, leg: int, start: int
) -> int:
    """When an installation has come so far as to begin a leg."""
    ends = [part.end for kind in (works, stays) for (i, n), part in kind.items() if i == one and n < leg]
    return max(ends, default=start)


def open_at(calendar: Calendar, moment: int) -> bool:
    day, second = divmod(moment, DAY)
    return (calendar.weekday + day) % 7 in calendar.days and calendar.opens <= second <= calendar.closes


minutes = st.integers(1, 90).map(lambda m: m * 60)


@st.composite
def campaigns(draw: st.DrawFn, most: int = 12) -> Campaign:
    legs = []
    clamped = draw(st.integers(0, 3))
    for number in range(draw(st.integers(1, 4))):
        work = draw(minutes) if number == clamped or draw(st.booleans()) else 0
        wait = draw(st.sampled_from([0, 300, 3600, 20_000, DAY]))
        group = draw(st.integers(1, 4)) if work else 1
        mixed = work and draw(st.booleans())
        cup = Cup(180, draw(st.integers(180, 20_000)), draw(st.integers(1, 5))) if mixed else None
        oven = wait > 0 and draw(st.booleans())
        proof = draw(st.sampled_from([0, work // 2, work]))
        legs.append(Leg(work, wait, oven=oven, clamp=number == clamped, group=group, cup=cup, proof=proof))
    load = draw(st.integers(1, 5))
    return Campaign(
        route=tuple(legs),
        number=draw(st.integers(1, most)),
        people=draw(st.integers(1, 3)),
        ovens=draw(st.integers(1, 2)),
        clamps=draw(st.one_of(st.none(), st.integers(load, 6))),
        load=load,
    )


@st.composite
def calendars(draw: st.DrawFn) -> Calendar:
    opens = draw(st.integers(0, 12)) * 3600
    closes = draw(st.integers(opens // 3600 + 2, 24)) * 3600
    days = draw(st.sets(st.integers(0, 6), min_size=1))
    return Calendar(opens, closes, frozenset(days), draw(st.integers(0, 6)))


@settings(max_examples=400)
@given(campaigns(), calendars(), st.integers(0, 3 * DAY))
def test_nobody_is_booked_twice_and_every_wait_is_kept(campaign: Campaign, calendar: Calendar, start: int) -> None:
    schedule = greedy(campaign, calendar, start)
    assert list(faults(campaign, calendar, schedule, start)) == []
    assert campaign.chain_s == 0 or schedule.end - start >= campaign.chain_s


@settings(max_examples=400)
@given(campaigns())
def test_never_longer_than_everything_in_a_row(campaign: Campaign) -> None:
    assert campaign.chain_s <= greedy(campaign, Calendar()).end <= campaign.serial_s


@settings(max_examples=60)
@given(campaigns(), calendars())
def test_the_same_campaign_gives_the_same_schedule(campaign: Campaign, calendar: Calendar) -> None:
    assert greedy(campaign, calendar) == greedy(campaign, calendar)


@pytest.mark.skipif(not installed(), reason="the optional solver is not installed")
@settings(max_examples=12)
@given(campaigns(most=5), calendars())
def test_the_solver_breaks_no_rule_that_ours_keeps(campaign: Campaign, calendar: Calendar) -> None:
    known = greedy(campaign, calendar)
    found = best(campaign, calendar, 0, known, 0.3)
    assert found is not None
    assert list(faults(campaign, calendar, found, 0)) == []
    assert campaign.chain_s <= found.end <= known.end


@pytest.mark.skipif(not installed(), reason="the optional solver is not installed")
def test_the_solver_finds_what_greed_misses() -> None:
    # Four hours a day and one oven: what is begun last in the morning decides what the oven does overnight.
    legs = (Leg(1800, 7200), Leg(3600, 1800), Leg(1800, 7200, oven=True))
    campaign = Campaign(legs, number=4, people=1, load=2)
    calendar = Calendar(8 * 3600, 12 * 3600)
    known = greedy(campaign, calendar, 8 * 3600)
    found = best(campaign, calendar, 8 * 3600, known, 2.0)
    assert found is not None
    assert found.end < known.end
    assert list(faults(campaign, calendar, found, 8 * 3600)) == []


def test_the_checker_can_fail() -> None:
    campaign = Campaign((Leg(600, 1200), Leg(300)), number=2)
    good = greedy(campaign, Calendar())
    assert list(faults(campaign, Calendar(), good, 0)) == []
    first, *rest = good.works
    doubled = Schedule((first, *(w._replace(start=w.start - 300, end=w.end - 300) for w in rest)), good.stays)
    assert list(faults(campaign, Calendar(), doubled, 0))
    early = Schedule(good.works, tuple(s._replace(end=s.end - 1) for s in good.stays))
    assert list(faults(campaign, Calendar(), early, 0))


def test_by_hand_two_installations_two_people() -> None:
    """10 min of work, 2 h of cure, 5 min of work: by hand 135 min; with one person the second is 10 min later."""
    route_of_two = (Leg(600, 7200), Leg(300))
    assert greedy(Campaign(route_of_two, 2, people=2), Calendar()).end == 8100
    assert greedy(Campaign(route_of_two, 2, people=1), Calendar()).end == 8700
    assert dict(savings(Campaign(route_of_two, 2), Calendar())) == {"technician": 600}


def test_what_is_bonded_is_finished_before_more_is_begun() -> None:
    """By hand: 1 h, an hour's wait, half an hour. The first is ready after 2 h 30 min; all take 15 h of work.

    Were all ten begun first, the first would be ready after 10 h 30 min.
    """
    campaign = Campaign((Leg(3600, 3600), Leg(1800)), 10)
    schedule = greedy(campaign, Calendar())
    assert schedule.ready(campaign.route) == (9_000, 54_000)
    assert schedule.end == 54_000


def test_proof_waits_until_nothing_else_calls() -> None:
    """By hand: 1 h of work, a minute's wait and 20 min of proof for each of three: proof comes when all are bonded.

    The first two are proved while the third waits: 4 h of work without a break.
    """
    campaign = Campaign((Leg(3600, 60), Leg(1200, proof=1200)), 3)
    schedule = greedy(campaign, Calendar())
    assert schedule.ready(campaign.route) == (3_660, 10_860)
    assert schedule.end == 14_400


def soonest_of_all(campaign: Campaign, calendar: Calendar, start: int) -> Schedule:
    """Find the schedule in which all are ready soonest, by a limit that is made tighter until nothing keeps it."""
    found = greedy(campaign, calendar, start)
    while True:
        last = found.ready(campaign.route)[1]
        sooner = greedy(replace(campaign, within=last - start - 1), calendar, start)
        if sooner.ready(campaign.route)[1] >= last:
            return found
        found = sooner


def test_a_limit_is_kept_where_it_can_be_and_else_changes_nothing() -> None:
    """By hand: four times 1 h, a wait of 2 h, half an hour.

    Begun first, the fourth waits from the end of the fourth hour to that of the sixth: all are ready after 6 h 30 min,
    the first after 4 h 30 min. Finished first, the first is ready after 3 h 30 min, and puts the fourth off by as much
    as it took: 7 h. That is as good, but for who has 6 h 30 min; who has one hour has it soonest so, too.
    """
    campaign = Campaign((Leg(3600, 7200), Leg(1800)), 4)
    in_hours = {
        hours: greedy(replace(campaign, within=None if hours is None else int(hours * 3600)), Calendar()).ready(
            campaign.route
        )
        for hours in (None, 6.5, 1)
    }
    assert in_hours == {None: (12_600, 25_200), 6.5: (16_200, 23_400), 1: (12_600, 25_200)}


@settings(max_examples=100)
@given(campaigns(), calendars(), st.integers(0, 3 * DAY))
def test_a_first_that_is_ready_soon_costs_the_others_little_and_no_limit(
    campaign: Campaign, calendar: Calendar, start: int
) -> None:
    soonest = soonest_of_all(campaign, calendar, start)
    usual = greedy(campaign, calendar, start)
    first, last = soonest.ready(campaign.route)
    assert usual.late == soonest.late
    assert usual.ready(campaign.route)[0] <= first
    assert last <= usual.ready(campaign.route)[1] <= last + max(3600, 0.05 * (last - start))
    in_time = greedy(replace(campaign, within=last - start), calendar, start)
    assert in_time.ready(campaign.route)[1] == last


def test_an_oven_holds_its_load_together_and_the_next_load_queues() -> None:
    campaign = Campaign((Leg(60, 3600, oven=True),), number=5, load=2)
    schedule = greedy(campaign, Calendar())
    assert [(s.installation, s.start) for s in schedule.stays] == [(0, 120), (1, 120), (2, 3720), (3, 3720), (4, 7320)]
    # By hand: one oven is done at 120 + 3 x 3600 s; with two, the third load begins at 3720 s.
    assert dict(savings(campaign, Calendar()))["oven"] == 10_920 - 7_320


def test_a_cure_runs_through_the_night_and_work_waits_for_the_morning() -> None:
    calendar = Calendar(8 * 3600, 16 * 3600, frozenset(range(5)), weekday=4)
    schedule = greedy(Campaign((Leg(3600, 2 * 3600), Leg(600)), 1), calendar, 15 * 3600)
    assert [(w.start, w.end) for w in schedule.works] == [
        (15 * 3600, 16 * 3600),
        (3 * DAY + 8 * 3600, 3 * DAY + 8 * 3600 + 600),
    ]


def test_a_surface_that_waits_too_long_is_counted() -> None:
    """By hand: 20 min each, an hour's wait, then within 10 min. Three fit behind each other, over night none does."""
    route_of_three = (Leg(1200, 3600), Leg(600, within=600))
    assert greedy(Campaign(route_of_three, 3), Calendar(8 * 3600, 16 * 3600), 8 * 3600).late == 0
    late = greedy(Campaign(route_of_three, 2), Calendar(8 * 3600, 16 * 3600), 15 * 3600 + 1200)
    assert late.late == 2


@pytest.mark.parametrize(("within", "late"), [(57_900, 0), (57_899, 1)])
def test_a_surface_bonded_at_the_last_second_that_it_keeps_is_not_late(within: int, late: int) -> None:
    """Wiped until 15:55, and bonded at 8:00 of the next day, since ten minutes no longer fit: 16 h 5 min later."""
    found = greedy(Campaign((Leg(600), Leg(600, within=within)), 1), Calendar(8 * 3600, 16 * 3600), 15 * 3600 + 2700)
    assert found.works[1].start - found.works[0].end == 57_900
    assert found.late == late


def test_what_does_not_fit_is_said() -> None:
    with pytest.raises(ValueError, match="no working day"):
        greedy(Campaign((Leg(3 * 3600),), 1), Calendar(8 * 3600, 10 * 3600))
    with pytest.raises(ValueError, match="share an oven"):
        Campaign((Leg(60, 60, oven=True, clamp=True),), 9, clamps=2, load=3)
    for hours, days in (("16-8", None), ("8", None), ("8-25", None), (None, "mon-fun"), (None, ",")):
        with pytest.raises(BadInput):
            Workday(hours=hours, days=days).calendar(None)


# -- with the knowledge


@pytest.fixture(scope="module")
def boards(engine: Engine, knowledge: Knowledge) -> Plan:
    job = job_of(
        {
            "job": {"name": "boards", "planned_on": "2027-03-01"},
            "part": {"substrate": "solder-masked-board", "surface": ["solder-masked"], "clamping": "thumb-only"},
            "service": {"temperature_c": [15, 35], "duration_days": 7},
            "batch": {"boards": 40, "gauges_per_board": 4, "technicians": 2},
        },
        "test",
    )
    return engine.plan(job, knowledge.entries["solder-masked-board"], 1)


@pytest.fixture(scope="module")
def hot(engine: Engine, knowledge: Knowledge) -> Plan:
    job = job_of(
        {
            "part": {"substrate": "titanium-6al-4v"},
            "service": {"temperature_c": [-20, 150], "exposures": ["dry-air"]},
            "batch": {"boards": 6, "gauges_per_board": 2},
        },
        "test",
    )
    return engine.plan(job, knowledge.entries["titanium-6al-4v"], 1)


def test_a_route_takes_what_the_steps_say(boards: Plan) -> None:
    from kb.planning.procedure import procedure

    chain = boards.chains[0]
    found = route(boards, chain)
    waits = sum(step.wait_s for step in procedure(boards, chain))
    told = sum(part.seconds for parts in (*found.work, *found.wait) for part in parts)
    assert told == sum(leg.work + leg.wait for leg in found.legs)
    hands = sum(step.hands_min for step in procedure(boards, chain))
    table = boards.knowledge.tables["ranking"]["steps"]["minutes"]
    items = sum(
        table[slot] + option.entry.facts.get("minutes", 0)
        for slot, option in zip(table, chain.picks, strict=True)
        if option.entry is not None
    )
    assert told == pytest.approx(waits + 60 * (hands + items))


def test_the_gauge_is_bonded_in_the_sitting_in_which_its_place_is_cleaned(boards: Plan) -> None:
    found = route(boards, boards.chains[0])
    stages = [part.stage for part in found.work[0]]
    assert stages[: stages.index("mount") + 1][-6:] == [
        "degrease", "abrade-dry", "abrade-wet", "condition", "neutralise", "mount",
    ]  # fmt: skip


def test_a_hot_cure_is_in_the_oven_and_the_last_coat_is_not_clamped(hot: Plan) -> None:
    chain = hot.chains[0]
    assert chain.cure["temperature_c"] > defaults()["hands"]["oven_above_c"]
    found = route(hot, chain)
    cured = [leg for leg, parts in zip(found.legs, found.wait, strict=True) if any(p.stage == "cure" for p in parts)]
    assert cured[0].oven
    assert cured[0].clamp
    assert not any(leg.clamp for leg in found.legs if leg is not cured[0])


def test_a_part_is_warmed_and_cooled_where_it_is_cured(hot: Plan) -> None:
    chain = hot.chains[0]
    cure, found = chain.cure, route(hot, chain)
    stays = [leg for leg, parts in zip(found.legs, found.wait, strict=True) if leg.oven and parts[0].stage == "cure"]
    assert stays[0].wait == 60 * (cure["duration_min"] + 2 * (cure["temperature_c"] - 20) / 2)
    assert [leg.clamp for leg in stays] == [True, *(False for _ in stays[1:])], "the clamp is off for the post-cure"
    assert len(stays) == 1 + bool(cure.get("post_cure_min"))


def test_start_by_makes_the_deadline_and_a_quarter_later_does_not(boards: Plan) -> None:
    deadline = datetime(2027, 3, 26, 12)
    found = timeline(boards, boards.chains[0], 20, deadline=deadline)
    ready = found.moment(found.all_ready_s)
    assert ready <= deadline
    assert found.start is not None
    again = timeline(boards, boards.chains[0], 20, start=found.start)
    assert again.moment(again.all_ready_s) == ready
    later = timeline(boards, boards.chains[0], 20, start=found.start + timedelta(minutes=15))
    assert later.moment(later.all_ready_s) > deadline


def test_five_thousand_installations_take_seconds(boards: Plan) -> None:
    begun = time.perf_counter()
    found = timeline(boards, boards.chains[0], 5000)
    assert found.held_up_by == "technician"
    assert time.perf_counter() - begun < 10


def test_a_campaign_beyond_all_benches_is_refused(boards: Plan) -> None:
    with pytest.raises(BadInput, match="split the campaign"):
        timeline(boards, boards.chains[0], 200_001)


def test_rows_are_as_the_contract_says(hot: Plan) -> None:
    found = timeline(hot, hot.chains[0], 12, Workday(technicians=2))
    document = timeline_json(found, None)
    rows = document["timeline"]
    assert {"start_min", "end_min", "stage", "installation", "who"} <= set(rows[0])
    assert rows[0]["start_min"] == 0
    assert max(row["end_min"] for row in rows if row["stage"] != "verify") == document["batch_ready_after_min"]
    assert document["ready_after_min"] < document["batch_ready_after_min"]
    assert {row["who"] for row in rows} == {"technician-1", "technician-2", None}
    assert {row["installation"] for row in rows} == set(range(1, 13))
    assert all((row["who"] is None) or row["oven"] is None for row in rows)


@pytest.mark.parametrize("number", [1, 2, 12])
def test_what_is_told_of_the_end_is_the_same_moment_everywhere(hot: Plan, number: int) -> None:
    """Ready is without the proof: the moment, the minutes to it, and what one alone would take."""
    found = timeline(hot, hot.chains[0], number)
    document = timeline_json(found, None)
    assert document["ready"] == at(found, found.first_s + round(document["batch_ready_after_min"] * 60))
    assert document["longest_chain_min"] <= document["ready_after_min"] <= document["batch_ready_after_min"]
    assert found.all_ready_s < found.schedule.end, "the job has no proof to leave out: the test tests nothing"


def test_the_picture_tells_its_story_in_words_too(hot: Plan) -> None:
    found = timeline(hot, hot.chains[0], 70)
    root = ElementTree.fromstring(timeline_svg(found, None))
    space = "{http://www.w3.org/2000/svg}"
    assert root.findtext(f"{space}title") == "Timeline of 70 installations"
    said = root.findtext(f"{space}desc") or ""
    assert "held up by" in said
    assert "and 10 more that are not drawn" in "".join(root.itertext())
    assert len({r.get("fill") for r in root.iter(f"{space}rect")}) >= 3
    text = timeline_text(found, None)
    assert "and 10 more" in text
    assert said.split(". ")[0] in text


@pytest.mark.skipif(not installed(), reason="the optional solver is not installed")
def test_the_gap_is_told(hot: Plan) -> None:
    found = timeline(hot, hot.chains[0], 6)
    solved = exact(found)
    assert solved is not None
    assert "A solver found" in timeline_text(found, solved)
    assert timeline_json(found, solved)["solver_ready_after_min"] is not None
    assert solved.schedule.end <= found.schedule.end
