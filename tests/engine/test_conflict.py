"""Where there is no chain: conflicts that need each part, all smallest changes, numbers at their very limit."""

from __future__ import annotations

import math
import time
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import cache
from itertools import combinations

import pytest

from kb.engine.breakpoints import DIGITS, breakpoints
from kb.engine.conflict import Relaxation, Trouble, trouble, trouble_of
from kb.engine.goal import Goal
from kb.engine.plan import Engine
from kb.engine.requirements import Requirement, requirements
from kb.engine.slots import INDEX
from kb.job import Job, job_of
from kb.materials.resolve import substrate
from kb.report.trouble import change_words
from kb.rules.clauses import Calculation, Clause, Ref, Scene
from kb.rules.rule import Rule
from tests.oracles.jobs import random_job
from tests.sweep import swept

SEEDS = swept(range(200), 2)
#: Against every set of up to three requirements, for jobs that ask so few things that this takes seconds.
MOST_ASKED = 9


def goal_of(job: Job, engine: Engine) -> Goal:
    return Goal(engine, substrate(job.part.substrate, engine.knowledge, "t").entry)


@cache
def troubles(engine: Engine) -> list[tuple[int, Job, Goal, Trouble]]:
    """Every one of the random jobs that has no chain."""
    found = []
    for seed in SEEDS:
        job, part = random_job(seed, engine.knowledge)
        goal = Goal(engine, part)
        if not goal.possible(job):
            found.append((seed, job, goal, trouble_of(goal, job)))
    return found


def let_go(job: Job, chosen: Sequence[Requirement]) -> Job:
    for requirement in chosen:
        job = requirement.let_go(job)
    return job


def named(requirement: Requirement) -> tuple[str, str]:
    return requirement.field, str(requirement.asked)


def test_random_jobs_meet_conflicts(engine: Engine) -> None:
    found = troubles(engine)
    assert len(found) > len(SEEDS) / 5
    assert all(t.complete for *_, t in found)
    assert sum(len(t.conflict) > 1 for *_, t in found) > len(SEEDS) / 40
    assert sum(len(t.relaxations) > 1 for *_, t in found) > len(SEEDS) / 20


def test_each_conflict_needs_each_of_its_parts(engine: Engine) -> None:
    for seed, job, goal, found in troubles(engine):
        kept = {named(r) for r in found.conflict}
        others = [r for r in requirements(job, goal.substrate.facts) if named(r) not in kept]
        alone = let_go(job, others)
        assert not goal.possible(alone), f"{seed}: no conflict"
        for requirement in found.conflict:
            assert goal.possible(requirement.let_go(alone)), f"{seed}: {requirement.field} does nothing in it"


def test_each_relaxation_gives_the_chain_that_it_says(engine: Engine) -> None:
    for seed, _, goal, found in troubles(engine):
        for relaxation in found.relaxations:
            again = job_of(dumped(relaxation.job), "again")
            chains = engine.plan(again, goal.substrate, top=1).chains
            assert chains, seed
            assert chains[0].picks == relaxation.gives.picks, seed


def dumped(job: Job) -> dict[str, object]:
    """The job as its file would hold it."""
    return {
        table: {name: value for name, value in fields.items() if value is not None}
        for table, fields in job.model_dump(mode="json").items()
    }


def test_all_smallest_changes_are_found_and_no_others(engine: Engine) -> None:
    compared = 0
    for seed, job, goal, found in troubles(engine):
        asked = requirements(job, goal.substrate.facts)
        if len(asked) > MOST_ASKED:
            continue
        compared += 1
        expected: list[set[str]] = []
        for size in (1, 2, 3):
            for chosen in combinations(asked, size):
                fields = {str(named(r)) for r in chosen}
                if not any(e <= fields for e in expected) and goal.possible(let_go(job, chosen)):
                    expected.append(fields)
        assert len(found.relaxations) == len(expected), f"{seed}: {expected}"
    assert compared > len(SEEDS) / 14


def test_relaxations_are_ranked_by_what_they_ask(engine: Engine) -> None:
    for _, _, _, found in troubles(engine):
        order = [(len(r.changes), r.asks) for r in found.relaxations]
        assert order == sorted(order)


def moved(job: Job, relaxation: Relaxation, goal: Goal) -> Iterator[tuple[Requirement, float, float, float | None]]:
    """Each number that a relaxation moves part of the way: its requirement, old and new value, the limit passed."""
    by_field = {r.field: r for r in requirements(job, goal.substrate.facts) if r.far is not None}
    for field, old, new, beyond in relaxation.changes:
        if field in by_field and isinstance(new, float) and field != "limits.ready_within_h":
            yield by_field[field], old, new, beyond


def test_numbers_move_to_the_very_limit(engine: Engine) -> None:
    """A millionth less is not enough; nor is any of ten values on the way, for it is no step-by-step search.

    A limit that comes out of a calculation is given in few digits: then it is one in the last of them less that isn't.
    """
    numbers = calculated = 0
    for seed, job, goal, found in troubles(engine):
        for relaxation in found.relaxations:
            for requirement, old, new, beyond in moved(job, relaxation, goal):
                numbers += 1
                edge = new if beyond is None else beyond
                almost = edge + (old - edge) * 1e-6
                if goal.possible(requirement.change(relaxation.job, almost)):
                    calculated += 1
                    almost = edge + math.copysign(10.0 ** (math.floor(math.log10(abs(edge))) - DIGITS + 1), old - edge)
                for value in (*(old + (edge - old) * step / 10 for step in range(1, 10)), almost):
                    changed = requirement.change(relaxation.job, value)
                    assert not goal.possible(changed), f"{seed}: {requirement.field} {value} does as well as {new}"
    assert numbers > len(SEEDS) / 5
    assert calculated < numbers / 10


def test_time_is_that_of_the_fastest_chain(engine: Engine) -> None:
    times = 0
    for seed, _, goal, found in troubles(engine):
        for relaxation in found.relaxations:
            hours = relaxation.job.limits.ready_within_h
            if hours is None or all(c.field != "limits.ready_within_h" for c in relaxation.changes):
                continue
            times += 1
            assert relaxation.gives.critical_path_min == pytest.approx(hours * 60, abs=1e-3), seed
            limits = relaxation.job.limits.model_copy(update={"ready_within_h": hours - 1e-4})
            assert not goal.possible(relaxation.job.model_copy(update={"limits": limits})), seed
    assert times > len(SEEDS) / 70


BOARD = {"substrate": "solder-masked board", "max_process_temperature_c": 60}
ALUMINIUM = {"substrate": "aluminium-2024", "max_process_temperature_c": 60}


def conflict_of(engine: Engine, part: dict[str, object], **tables: dict[str, object]) -> Trouble:
    job = job_of({"part": part, **tables}, "t")
    goal = goal_of(job, engine)
    plan = engine.plan(job, goal.substrate, top=1)
    assert not plan.chains
    return trouble(engine, plan)


def test_the_board_at_300_degrees_takes_no_two_seconds(engine: Engine) -> None:
    start = time.process_time()
    found = conflict_of(engine, BOARD, service={"temperature_c": [15, 300]})
    assert time.process_time() - start < 2
    assert [r.field for r in found.conflict] == ["service.temperature_c[1]"], "no board lives at 300 degC"
    ((change,),) = [r.changes for r in found.relaxations]
    assert (change.field, change.old, change.beyond) == ("service.temperature_c[1]", 300.0, None)


def test_a_part_that_endures_60_degrees_and_serves_at_300(engine: Engine) -> None:
    found = conflict_of(engine, ALUMINIUM, service={"temperature_c": [15, 300]})
    assert [r.field for r in found.conflict] == ["part.max_process_temperature_c", "service.temperature_c[1]"]
    assert {r.changes[0].field for r in found.relaxations} == {
        "part.max_process_temperature_c",
        "service.temperature_c[1]",
    }


def with_rule(engine: Engine, *when: Clause) -> Engine:
    """An engine over the same knowledge with one more rule, that forbids everything where `when` holds."""
    rule = Rule("r", "t", "block", ("service",), "m", "b", "", "memory", (), when)
    return Engine(replace(engine.knowledge, rules=(*engine.knowledge.rules, rule)))


WARM = {"part": {"substrate": "brass-c26000"}, "service": {"temperature_c": [15, 60]}}


@pytest.mark.parametrize(
    ("op", "new", "beyond"),
    [("above", 50.0, None), ("at-least", 49.0, 50.0)],
)
def test_strict_and_inclusive_limits_differ(op: str, new: float, beyond: float | None, engine: Engine) -> None:
    strict = with_rule(engine, Clause("service.high_c", op, 50))
    job = job_of(WARM, "t")
    ((change,),) = [r.changes for r in trouble_of(goal_of(job, strict), job).relaxations]
    assert change == ("service.temperature_c[1]", 60.0, new, beyond)


def test_the_nearest_opening_is_found_where_a_later_one_closes_again(engine: Engine) -> None:
    """Refused above 50, and again from 30 to 40 degC: 50 is the nearest, whatever lies beyond it."""
    gap = with_rule(
        with_rule(engine, Clause("service.high_c", "above", 50)),
        Clause("service.high_c", "above", 30),
        Clause("service.high_c", "at-most", 40),
    )
    job = job_of(WARM, "t")
    ((change,),) = [r.changes for r in trouble_of(goal_of(job, gap), job).relaxations]
    assert change.new == 50.0


def test_a_limit_on_a_calculation_is_found_in_its_own_terms(engine: Engine) -> None:
    """Film stress is E/(1-v) times the difference of expansion times the fall in temperature (Stoney's film, biaxial):
    3 GPa, 0.4, 50 ppm per degC from 20 degC reach 30 MPa after a fall of 120 degC, at -100 degC."""
    inputs = {"modulus_gpa": 3.0, "poisson": 0.4, "cte_film_ppm": 60.0, "cte_part_ppm": 10.0}
    cold = Calculation("film-stress", {**inputs, "delta_c": {"difference": [20.0, "service.low_c"]}}, "stress_mpa")
    rule = Rule("r", "t", "block", ("service",), "m", "b", "", "memory", (), (Clause(cold, "above", 30.0),))
    looked_at: list[float] = []

    def scene_of(low: float) -> Scene:
        looked_at.append(low)
        return {"service": {"low_c": low}}

    found = breakpoints([rule], engine.domains, lambda *_: [d.all for d in engine.domains], scene_of, -150.0, 22.0)
    assert [*found] == [pytest.approx(-100.0, abs=0.011), 22.0]
    assert len(looked_at) < 30, "a figure of four digits is found sooner than the last bit of it"


def test_the_bound_on_plans_is_kept_and_said(engine: Engine) -> None:
    job = job_of({"part": ALUMINIUM, "service": {"temperature_c": [15, 300], "exposures": ["mineral-oil"]}}, "t")
    goal = goal_of(job, engine)
    found = trouble_of(goal, job, most_plans=5)
    assert found.plans == 5
    assert not found.complete


def test_a_job_colder_than_any_room_can_let_the_cold_go() -> None:
    job = job_of({"part": {"substrate": "brass"}, "service": {"temperature_c": [-196, -190]}}, "t")
    (cold,) = [r for r in requirements(job, {}) if r.field == "service.temperature_c[0]"]
    assert cold.let_go(job).service.temperature_c == (22.0, 22.0)
    assert cold.change(job, -193.0).service.temperature_c == (-193.0, -190.0)


def test_how_deep_it_lies_is_let_go_before_the_water(engine: Engine) -> None:
    job = job_of(
        {
            "part": {"substrate": "titanium-6al-4v"},
            "service": {
                "temperature_c": [2, 5],
                "duration_days": 30,
                "exposures": [{"is": "sea-water-immersion", "depth_m": 2000}],
            },
        },
        "t",
    )
    found = trouble_of(goal_of(job, engine), job)
    assert {r.field for r in found.conflict} == {
        "service.exposures",
        "service.conditions.sea-water-immersion.depth_m",
    }
    (change,) = found.relaxations[0].changes
    assert (change.field, change.old, change.new) == ("service.conditions.sea-water-immersion.depth_m", 2000, 300)
    assert "no deeper than 300 m" in change_words(change)


def test_limits_of_what_is_shut_out_anyway_are_no_breakpoints(engine: Engine) -> None:
    """A job whose number turns nothing else: of the adhesives one alone is left, and its own limit is the only one."""
    domain = engine.domains[INDEX["adhesive"]]
    limits = {option.facts("cure")["service_max_c"] for option in domain.options[1:]}  # type: ignore[index]
    assert len(limits) > 1
    clause = Clause("service.high_c", "above", Ref("cure.service_max_c"))
    rule = Rule("r", "t", "block", ("cure",), "m", "b", "", "memory", (), (clause,))

    def turns(places: int) -> list[float]:
        left = [places if d is domain else d.all for d in engine.domains]
        found = breakpoints(
            [rule], engine.domains, lambda *_: left, lambda high: {"service": {"high_c": high}}, 999.0, 0.0
        )
        assert all(rules == {"r"} for value, rules in found.items() if value)
        return [value for value in found if value]

    assert sorted(turns(domain.all)) == sorted(limit for limit in limits if limit < 999.0)
    assert turns(0b11) == [domain.options[1].facts("cure")["service_max_c"]]  # type: ignore[index]
