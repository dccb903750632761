"""The room over the day against an ODE solver, and the additive effect against the regulation's own example."""

from __future__ import annotations

from itertools import pairwise

import pytest
from scipy.integrate import quad, solve_ivp

from kb.quantities.air import Emission, Room, additive, average_8h_mg_m3, average_mg_m3, level_mg_m3, peak_mg_m3
from tests.outside.published import entry

DAYS = [
    (Room(60, 4), [Emission(70, 0, 2.5)]),
    (Room(60, 4), [Emission(70, 0, 2.5), Emission(20, 1, 0.25), Emission(5, 7.5, 3)]),
    (Room(3, 0), [Emission(10, 0.5, 1), Emission(3, 4, 6)]),
    (Room(25, 0.3), [Emission(10, 0, 12), Emission(40, 3, 0.01)]),
    (Room(400, 12), [Emission(500, 2, 9)]),
]


def solved(room: Room, day: list[Emission], at: float) -> float:
    """V dC/dt = E - Q C, stepped so finely that no emission is skipped."""

    def rate(t: float, c: list[float]) -> list[float]:
        fed = sum(e.grams / e.over_h for e in day if e.start_h <= t < e.end_h)
        return [1000 * fed / room.volume_m3 - room.changes_per_h * c[0]]

    stops = sorted({0.0, at, *(t for e in day for t in (e.start_h, e.end_h) if t < at)})
    level = 0.0
    for begin, end in pairwise(stops):
        # From edge to edge of the emissions, so that the right side is smooth.
        def smooth(t: float, c: list[float], begin: float = begin, end: float = end) -> list[float]:
            return rate(min(max(t, begin), end - 1e-9), c)

        level = float(solve_ivp(smooth, (begin, end), [level], rtol=1e-10, atol=1e-10).y[0, -1])
    return level


@pytest.mark.parametrize(("room", "day"), DAYS)
@pytest.mark.parametrize("at", [0.3, 1.2, 5.0, 8.0, 14.0])
def test_levels_equal_an_ode_solver(room: Room, day: list[Emission], at: float) -> None:
    assert level_mg_m3(room, day, at) == pytest.approx(solved(room, day, at), rel=1e-6, abs=1e-6)


@pytest.mark.parametrize(("room", "day"), DAYS)
def test_averages_equal_a_quadrature(room: Room, day: list[Emission]) -> None:
    edges = [t for e in day for t in (e.start_h, e.end_h) if 0 < t < 8]
    wanted = quad(lambda t: level_mg_m3(room, day, t), 0, 8, points=edges or None, limit=200)[0] / 8
    assert average_mg_m3(room, day, 0, 8) == pytest.approx(wanted, rel=1e-6)
    assert average_8h_mg_m3(room, day) >= 0.999 * wanted or day[0].start_h > 0


@pytest.mark.parametrize(("room", "day"), DAYS)
def test_peak_equals_the_finest_of_grids(room: Room, day: list[Emission]) -> None:
    grid = max(level_mg_m3(room, day, n / 200) for n in range(4000))
    assert grid <= peak_mg_m3(room, day) * (1 + 1e-9)
    assert grid == pytest.approx(peak_mg_m3(room, day), rel=0.05)


def test_additive_effect_equals_the_regulations_example() -> None:
    known = entry("osha-mix")
    given = known.inputs
    known.assert_near(additive(c / limit for c, limit in zip(given["C_ppm"], given["PEL_ppm"], strict=True)))


def test_levels_of_a_shift_average_as_in_the_regulations_example() -> None:
    """29 CFR 1910.1000(d)(1)(ii): 2 h at 150, 2 h at 75, 4 h at 50 ppm. A tight room, filled in three steps at once."""
    known = entry("osha-twa")
    mean = 0.0
    begin = 0.0
    for level, hours in zip(known.inputs["ppm"], known.inputs["h"], strict=True):
        # So many mg/m3 that hang in 1 m3 for so long.
        mean += average_mg_m3(Room(1, 0), [Emission(level / 1000, begin, 0)], begin, begin + hours) * hours / 8
        begin += hours
    known.assert_near(mean)
