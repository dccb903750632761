"""Mixes: used up in their pot life, never more than a pot, never less than can be weighed."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.engine.plan import Engine
from kb.knowledge import Entry
from kb.quantities.calendar import Calendar
from kb.quantities.campaign import Campaign, Leg
from kb.quantities.estimate import estimate
from kb.quantities.mixes import Mix, Poured, mix_of, recipe_of, smallest_mass_g
from kb.quantities.schedule import greedy
from tests.quantities.jobs import BRACKET, job_with, with_adhesive

FIGURES: dict[str, Any] = {
    "resolution_g": 0.1, "fine_resolution_g": 0.01, "ratio_tolerance": 0.02, "smallest_g": 5.0, "stir_min": 2.0,
    "travel_min": 1.0, "cup_pct": 10.0, "reference_c": 25.0, "q10": 2.0, "pot_mass_g": 20.0,
}  # fmt: skip


def epoxy(**facts: Any) -> Entry:
    known = {"parts": 2, "pot_life_min": 23.0, "pot_mass_g": 20.0, "mix_ratio": (1.0, 1.0), "rate_q10": 2.0, **facts}
    return Entry("e", "adhesive", "epoxy-room-cure", "an epoxy", {k: v for k, v in known.items() if v is not None})


def mixed(
    entry: Entry | None = None,
    each_g: float = 0.1,
    attempts: int = 23,
    technicians: int = 1,
    air_temperature_c: float = 25.0,
    minutes_each: float = 2.0,
) -> Mix:
    """The mixes of a bench on which nothing but this item is laid out, cup after cup, by people side by side."""
    recipe = recipe_of(entry or epoxy(), "mount", FIGURES, each_g, air_temperature_c)
    hands_s = round(minutes_each * 60)
    leg = Leg(hands_s, cup=recipe.cup(), group=recipe.together(hands_s, technicians, attempts))
    schedule = greedy(Campaign((leg,), attempts, people=technicians), Calendar())
    return mix_of(recipe, [Poured(*cup) for cup in schedule.cups(0, hands_s)])


def test_by_hand() -> None:
    """23 min less 2 to stir and 1 to carry leave ten gauges of 2 min; 23 gauges take three mixes."""
    found = mixed()
    assert (found.number, found.installations_each, found.mass_g, found.limited_by) == (3, 10, 5.0, "pot life")
    assert found.thrown_away_g == pytest.approx(3 * 5.0 - 23 * 0.1)


def test_two_pairs_of_hands_lay_out_twice_as_many() -> None:
    assert (mixed(technicians=2).number, mixed(technicians=2).installations_each) == (2, 20)


def test_ten_degrees_more_halve_the_pot_life() -> None:
    found = mixed(air_temperature_c=35.0)
    assert found.pot_life_min == pytest.approx(11.5)
    assert found.number == 6  # 8.5 min, four gauges each


def test_a_big_gauge_is_limited_by_the_pot() -> None:
    """A pot of 20 g less a tenth in the cup serves three of 6 g."""
    found = mixed(epoxy(pot_life_min=480.0), each_g=6.0)
    assert (found.limited_by, found.installations_each, found.number) == ("mass", 3, 8)
    assert found.mass_g == pytest.approx(20.0)


def test_one_mix_for_all_is_limited_by_the_batch() -> None:
    found = mixed(epoxy(pot_life_min=480.0))
    assert (found.limited_by, found.number, found.installations_each) == ("batch", 1, 23)


def test_an_unknown_pot_life_serves_one_at_a_time_and_is_said() -> None:
    found = mixed(epoxy(pot_life_min=None))
    assert (found.limited_by, found.number, found.pot_life_min) == ("pot life not known", 23, None)
    assert [r.rule for r in found.remarks] == ["pot-life-not-known"]


def test_a_pot_life_too_short_for_one_is_said() -> None:
    found = mixed(epoxy(pot_life_min=4.0))
    assert found.number == 23
    assert [(r.rule, r.verdict) for r in found.remarks] == [("pot-life-too-short-for-one", "need")]


def test_the_smallest_that_can_be_weighed() -> None:
    """A reading that is off by 0.05 g is 2 % of 2.5 g: 5 g of equal parts, 27.5 g at ten to one."""
    assert smallest_mass_g((1, 1), 0.1, 0.02, 5.0) == 5.0
    assert smallest_mass_g((1, 10), 0.1, 0.02, 5.0) == pytest.approx(27.5)
    assert smallest_mass_g((10, 1), 0.1, 0.02, 5.0) == pytest.approx(27.5)


def test_a_coarse_scale_is_told_from_a_fine_one() -> None:
    """At ten to one the coarse scale would want 27.5 g in a pot of 20: the finer is asked for, and 5 g are enough."""
    found = mixed(epoxy(mix_ratio=(10.0, 1.0)))
    assert (found.mass_g, [r.rule for r in found.remarks]) == (5.0, ["scale-too-coarse"])
    kept = mixed(epoxy(mix_ratio=(10.0, 1.0), pot_mass_g=50.0))
    assert (kept.mass_g, kept.remarks) == (27.5, ())


def test_an_unknown_ratio_is_said() -> None:
    assert [r.rule for r in mixed(epoxy(mix_ratio=None)).remarks] == ["mixing-ratio-not-known"]


@given(
    each_g=st.floats(0.001, 30),
    attempts=st.integers(1, 500),
    technicians=st.integers(1, 8),
    air=st.floats(0, 45),
    minutes=st.floats(0.2, 30),
    pot=st.floats(0.5, 1000),
    ratio=st.sampled_from([(1.0, 1.0), (10.0, 1.0), (50.0, 1.0), (100.0, 85.0), (2.0, 1.0)]),
)
def test_laws(
    each_g: float, attempts: int, technicians: int, air: float, minutes: float, pot: float, ratio: tuple[float, float]
) -> None:
    found = mixed(
        epoxy(pot_life_min=pot, mix_ratio=ratio),
        each_g=each_g, attempts=attempts, technicians=technicians, air_temperature_c=air, minutes_each=minutes,
    )  # fmt: skip
    assert found.number * found.installations_each >= attempts
    assert sum(cup.installations for cup in found.cups) == attempts
    assert found.mass_g >= FIGURES["smallest_g"]
    assert found.mass_g * 0.9 >= found.installations_each * each_g - 1e-6
    assert found.thrown_away_g == pytest.approx(found.number * found.mass_g - attempts * each_g, abs=1e-5)
    assert found.thrown_away_g >= 0
    assert found.pot_life_min is not None
    if "pot-life-too-short-for-one" not in {r.rule for r in found.remarks}:
        assert all(cup.done_s - cup.opened_s <= found.pot_life_min * 60 for cup in found.cups)
    if found.mass_g > 20 + 1e-9:
        assert "pot-bigger-than-stated" in {r.rule for r in found.remarks}


def test_what_is_mixed_is_what_is_brought(engine: Engine) -> None:
    found = estimate(*with_adhesive(job_with(BRACKET), engine, "epoxy-room-cure-two-part", "room"))
    (mix,) = (m for m in found.mixes if m.entry.id == "epoxy-room-cure-two-part")
    line = next(x for x in found.lines if x.entry.id == mix.entry.id)
    assert line.gross == pytest.approx(mix.number * mix.mass_g)
    cups = next(x for x in found.lines if x.entry.id == "mixing-cup")
    assert cups.gross == sum(m.number for m in found.mixes)


def test_a_one_part_adhesive_is_not_mixed(engine: Engine) -> None:
    found = estimate(*with_adhesive(job_with(BRACKET), engine, "ethyl-cyanoacrylate-low-viscosity"))
    assert "ethyl-cyanoacrylate-low-viscosity" not in {m.entry.id for m in found.mixes}


def test_a_warmer_bench_never_needs_fewer_mixes(engine: Engine) -> None:
    numbers = []
    for air in (15, 22, 30, 38):
        job = job_with(BRACKET, bench={"air_temperature_c": air}, batch={"boards": 40})
        plan, chain = with_adhesive(job_with(BRACKET), engine, "epoxy-room-cure-two-part", "room")
        from dataclasses import replace

        found = estimate(replace(plan, job=job), chain)
        numbers.append(next(m.number for m in found.mixes if m.entry.id == "epoxy-room-cure-two-part"))
    assert numbers == sorted(numbers)
    assert numbers[0] < numbers[-1]
