"""The room's air: against the closed form, with its mass kept, and told from a closet."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb import calc
from kb.engine.plan import Engine
from kb.knowledge import Entry
from kb.quantities.air import (
    Emission,
    Law,
    Room,
    additive,
    air,
    average_8h_mg_m3,
    average_mg_m3,
    group_shares,
    level_mg_m3,
    peak_mg_m3,
    vapour,
)
from kb.quantities.cautions import of_air
from kb.quantities.estimate import Estimate, estimate
from tests.quantities.jobs import BOARD, job_with, planned

#: As many air changes [1/h] as are asked of a room.
MOST = 1000.0
FIGURES = {"caution_share": 0.25, "stop_share": 1.0}
emission = st.builds(Emission, st.floats(0.01, 500), st.floats(0, 20), st.floats(0, 12))
emissions = st.lists(emission, min_size=1, max_size=4)
rooms = st.builds(Room, st.floats(2, 500), st.floats(0, 30))


def close(a: float, b: float, rel: float = 1e-6) -> bool:
    return math.isclose(a, b, rel_tol=rel, abs_tol=1e-6)


@given(grams=st.floats(0.01, 500), over=st.floats(0, 24), room=rooms)
def test_one_emission_is_the_calculation_itself(grams: float, over: float, room: Room) -> None:
    """Peak and 8 h mean equal `room-vapour`, whose closed form is checked on its own."""
    wanted = calc.function("room-vapour")(grams, over, room.volume_m3, room.changes_per_h, 100.0)
    one = [Emission(grams, 0.0, over)]
    assert close(peak_mg_m3(room, one), wanted["peak_mg_m3"])
    assert close(average_8h_mg_m3(room, one), wanted["average_8h_mg_m3"], 1e-5)


def test_by_hand() -> None:
    """100 g in 50 m3 within an hour at one change an hour: (1 - 1/e) of 2000 mg/m3, then down by e each hour."""
    one = [Emission(100, 0, 1)]
    assert peak_mg_m3(Room(50, 1), one) == pytest.approx(2000 * (1 - math.exp(-1)))
    assert level_mg_m3(Room(50, 1), one, 2) == pytest.approx(2000 * (1 - math.exp(-1)) / math.e)
    assert level_mg_m3(Room(50, 1), one, -1) == 0


@given(given=emissions, room=rooms, at=st.floats(0.1, 40))
def test_mass_is_conserved(given: list[Emission], room: Room, at: float) -> None:
    """What has evaporated hangs in the room or has left with its air."""
    fed = sum(e.grams if at >= e.end_h else e.grams * (at - e.start_h) / e.over_h for e in given if at >= e.start_h)
    left = level_mg_m3(room, given, at) * room.volume_m3 / 1000
    gone = average_mg_m3(room, given, 0, at) * at * room.changes_per_h * room.volume_m3 / 1000
    assert math.isclose(left + gone, fed, rel_tol=1e-6, abs_tol=1e-6)


@given(given=emissions, room=rooms, at=st.floats(0, 40))
def test_the_peak_is_nowhere_exceeded(given: list[Emission], room: Room, at: float) -> None:
    assert level_mg_m3(room, given, at) <= peak_mg_m3(room, given) * (1 + 1e-9) + 1e-9


@given(given=emissions, room=rooms)
def test_more_air_is_never_worse(given: list[Emission], room: Room) -> None:
    fresher = Room(room.volume_m3, room.changes_per_h + 1)
    assert peak_mg_m3(fresher, given) <= peak_mg_m3(room, given) * (1 + 1e-9)
    assert average_8h_mg_m3(fresher, given) <= average_8h_mg_m3(room, given) * (1 + 1e-6) + 1e-9


@given(given=emissions, room=rooms, times=st.floats(0.1, 10))
def test_twice_the_vapour_is_twice_the_level(given: list[Emission], room: Room, times: float) -> None:
    more = [replace(e, grams=times * e.grams) for e in given]
    assert close(peak_mg_m3(room, more), times * peak_mg_m3(room, given))
    assert close(average_8h_mg_m3(room, more), times * average_8h_mg_m3(room, given), 1e-5)


def test_additive_effect() -> None:
    assert additive([0.5, 0.25]) == 0.75
    assert additive([]) == 0


def substance(**facts: object) -> Entry:
    known = {"molar_mass_g_mol": 100.0, "vapour_pressure_kpa": 5.0, "lel_pct": 1.0, "hazards": ("flammable",), **facts}
    return Entry("s", "substance", "solvent", "a solvent", {k: v for k, v in known.items() if v is not None})


def limit(kind: str, **value: object) -> dict[str, object]:
    known = {"list": "a list", "jurisdiction": "us", "skin": False, "source": "osha-1910-1000", "as_of": "1993-06-30"}
    return {**known, "kind": kind, **value}


def test_air_holds_no_more_than_its_fill_at_the_peak_and_over_the_shift() -> None:
    """0.1 kPa of 101.325 kPa is 987 ppm: of a spill in a closed cupboard that is all there is to breathe."""
    entry = substance(vapour_pressure_kpa=0.1)
    found = vapour(entry, [Emission(1000, 0, 0)], Room(1, 0))
    filled = 1e6 * 0.1 / 101.325 * entry.facts["molar_mass_g_mol"] / 24.45
    assert found.peak_mg_m3 == pytest.approx(filled)
    assert found.average_8h_mg_m3 == pytest.approx(filled)


def test_each_limit_meets_its_own_measure() -> None:
    """The 8 h limit the mean, the others the peak."""
    entry = substance(limits=(limit("twa-8h", mg_m3=100.0), limit("stel-15min", mg_m3=100.0)))
    found = vapour(entry, [Emission(10, 0, 1)], Room(50, 2))
    shares = {x.kind: x.share for x in found.limits}
    assert shares["twa-8h"] == pytest.approx(found.average_8h_mg_m3 / 100)
    assert shares["stel-15min"] == pytest.approx(found.peak_mg_m3 / 100)
    assert found.worst is not None
    assert found.worst.kind == "stel-15min"


def test_a_limit_in_ppm_is_taken_at_25_degrees() -> None:
    found = vapour(substance(limits=(limit("twa-8h", ppm=100.0),)), [Emission(10, 0, 1)], Room(50, 2))
    assert found.limits[0].limit_mg_m3 == pytest.approx(100 * 100 / 24.45)


TWO_LAWS = (limit("twa-8h", mg_m3=100.0), limit("twa-8h", mg_m3=20.0, jurisdiction="france", list="their list"))


def test_the_law_that_is_named_holds_and_else_the_strictest() -> None:
    entry, given, room = substance(limits=TWO_LAWS), [Emission(10, 0, 1)], Room(50, 2)

    def worst(jurisdiction: str | None) -> float:
        found = vapour(entry, given, room, Law(jurisdiction)).worst
        assert found is not None
        return found.limit_mg_m3

    assert (worst("us"), worst("france"), worst(None)) == (100.0, 20.0, 20.0)


def test_where_the_law_lists_none_the_strictest_of_others_counts_and_that_is_said() -> None:
    law = Law("uk")
    found = air({"s": [Emission(10, 0, 1)]}, {"s": substance(limits=TWO_LAWS)}, Room(50, 2), (0.25, 1.0), MOST, law)
    assert found.vapours[0].foreign
    assert found.vapours[0].worst is not None
    assert found.vapours[0].worst.limit_mg_m3 == 20.0
    assert "air-law-lists-none" in {r.rule for r in of_air(found, Room(50, 2), FIGURES, law)}


def test_whose_limits_were_taken_is_said_where_nobody_named_a_law() -> None:
    found = air({"s": [Emission(10, 0, 1)]}, {"s": substance(limits=TWO_LAWS)}, Room(50, 2), (0.25, 1.0), MOST)
    said = {r.rule: r.message for r in of_air(found, Room(50, 2), FIGURES)}
    assert "france" in said["air-law-not-said"]


def test_a_row_counts_on_the_days_that_it_is_in_force() -> None:
    rows = (limit("twa-8h", mg_m3=10.0, valid_until="2028-12-31"), limit("twa-8h", mg_m3=6.0, valid_from="2029-01-01"))

    def held(on: str | None) -> list[float]:
        return [x.limit_mg_m3 for x in vapour(substance(limits=rows), [], Room(50, 2), Law(None, on)).limits]

    assert held("2028-12-31") == [10.0]
    assert held("2029-01-01") == [6.0]
    assert held(None) == [10.0, 6.0]


def test_isocyanates_fill_one_limit_together() -> None:
    """Counted as NCO: two groups of 42.017 g/mol in a molecule of 84.034 are all of it."""
    row = limit("twa-8h", mg_m3=0.01, measured_as="NCO")
    one = substance(molar_mass_g_mol=84.034, nco_groups=2, vapour_pressure_kpa=None, limits=(row,))
    given = {"a": [Emission(0.0001, 0, 1)], "b": [Emission(0.0001, 0, 1)]}
    found = air(given, {"a": one, "b": one}, Room(50, 2), (), MOST)
    shares = [v.worst.share for v in found.vapours if v.worst]
    assert found.vapours[0].limits[0].limit_mg_m3 == pytest.approx(0.01)
    assert group_shares(found.vapours)["a list", "twa-8h"] == pytest.approx(sum(shares))
    assert found.worst == pytest.approx(sum(shares))


def test_the_explosive_share_is_of_the_lower_end() -> None:
    """1 % by volume is all of a limit whose range is 1.0 to 1.5 %."""
    found = vapour(substance(lel_pct=1.0, vapour_pressure_kpa=None), [Emission(10, 0, 0)], Room(0.1, 0))
    ppm = found.peak_mg_m3 * 24.45 / 100
    assert found.share_of_lel == pytest.approx(ppm / 1e4)


def test_what_goes_through_skin_is_named() -> None:
    entry = substance(limits=(limit("twa-8h", mg_m3=100.0, skin=True),))
    found = air({"s": [Emission(10, 0, 1)]}, {"s": entry}, Room(50, 2), (), MOST)
    assert "taken-up-through-skin" in {r.rule for r in of_air(found, Room(50, 2), FIGURES)}


def test_no_listed_limit_is_unknown_and_not_harmless() -> None:
    found = air({"s": [Emission(10, 0, 1)]}, {"s": substance()}, Room(50, 2), (0.25, 1.0), MOST)
    assert found.vapours[0].worst is None
    assert "air-limit-unknown" in {r.rule for r in of_air(found, Room(50, 2), FIGURES)}


def test_an_unknown_explosive_limit_is_said() -> None:
    found = air({"s": [Emission(10, 0, 1)]}, {"s": substance(lel_pct=None)}, Room(50, 2), (0.25, 1.0), MOST)
    assert found.vapours[0].share_of_lel is None
    assert "air-explosive-limit-unknown" in {r.rule for r in of_air(found, Room(50, 2), FIGURES)}


def test_air_holds_no_more_than_it_can() -> None:
    """Saturated at 0.01 kPa: 99 ppm, 404 mg/m3, however much is spilt."""
    found = vapour(substance(vapour_pressure_kpa=0.01), [Emission(1e6, 0, 1)], Room(10, 0))
    assert found.peak_mg_m3 == pytest.approx(1e6 * 0.01 / 101.325 * 100 / 24.45)


def test_ventilation_that_is_asked_for_is_enough_and_not_much_more() -> None:
    entry = substance(limits=(limit("twa-8h", mg_m3=100.0),))
    room, given = Room(20, 0.5), {"s": [Emission(60, 0, 4)]}
    found = air(given, {"s": entry}, room, (0.25, 1.0), MOST)
    assert found.worst > 1
    for share, changes in found.changes_for.items():
        assert changes is not None
        assert air(given, {"s": entry}, Room(20, changes), (), MOST).worst <= share
        assert air(given, {"s": entry}, Room(20, 0.97 * changes), (), MOST).worst > share


def test_no_more_ventilation_is_asked_for_than_a_room_has() -> None:
    """Between the last doubling and the most a room has, and beyond it by less than another doubling."""
    entry = substance(limits=(limit("ceiling", mg_m3=100.0),))
    given = {"s": [Emission(1, 0, 0.002)]}
    needed = air(given, {"s": entry}, Room(20, 0.5), (0.05,), 1e6).changes_for[0.05]
    assert needed is not None
    for most, told in ((1.02 * needed, pytest.approx(needed, rel=0.02)), (0.97 * needed, None), (0.6 * needed, None)):
        assert air(given, {"s": entry}, Room(20, 0.5), (0.05,), most).changes_for[0.05] == told


def test_no_ventilation_helps_against_what_evaporates_at_once() -> None:
    entry = substance(limits=(limit("ceiling", mg_m3=1.0),))
    found = air({"s": [Emission(60, 0, 0)]}, {"s": entry}, Room(20, 0.5), (1.0,), MOST)
    assert found.changes_for == {1.0: None}


def in_room(engine: Engine, volume: float, changes: float) -> Estimate:
    """Forty boards, by the chain for an ordinary room, in another."""
    batch = {"boards": 40, "gauges_per_board": 4}
    plan, chain = planned(job_with(BOARD, batch=batch), engine)
    bench = {"room_volume_m3": volume, "air_changes_per_h": changes}
    return estimate(replace(plan, job=job_with(BOARD, batch=batch, bench=bench)), chain)


def test_a_closet_is_flagged(engine: Engine) -> None:
    found = in_room(engine, 4, 0.2)
    assert found.acts
    assert {"air-passes-limit", "ventilation-needed"} <= {r.rule for r in found.remarks}


def test_a_large_ventilated_room_is_not(engine: Engine) -> None:
    found = in_room(engine, 400, 6)
    assert not found.acts
    assert not {r.rule for r in found.remarks} & {
        "air-passes-limit", "air-near-limit", "air-explosive", "air-additive-effect", "ventilation-needed",
    }  # fmt: skip


def test_what_evaporates_is_what_is_used(engine: Engine) -> None:
    """No more of a substance hangs in the air than was in the bottles, and water is left out."""
    found = in_room(engine, 60, 4)
    poured = sum(x.gross for x in found.lines if x.unit in ("g", "mL"))
    assert 0 < sum(v.evaporated_g for v in found.air.vapours) <= 1.1 * poured
    assert "water" not in {v.entry.id for v in found.air.vapours}
    assert "phosphoric-acid" not in {v.entry.id for v in found.air.vapours}  # stays on the wipe


def test_solvent_of_the_degreaser_by_hand(engine: Engine) -> None:
    """All that is used of it evaporates: its millilitres times its density."""
    found = in_room(engine, 60, 4)
    item = found.chain.pick("degreaser").entry
    assert item is not None
    parts = [p for p in item.facts["composition"] if p["substance"] != "water"]
    if len(parts) == 1 and not any(
        p["substance"] == parts[0]["substance"]
        for option in found.chain.picks
        if option.entry is not None and option.id != item.id
        for p in option.entry.facts.get("composition", ())
    ):
        line = next(x for x in found.lines if x.entry.id == item.id)
        density = found.plan.knowledge.entries[parts[0]["substance"]].facts["density_g_ml"]
        (v,) = (v for v in found.air.vapours if v.entry.id == parts[0]["substance"])
        assert v.evaporated_g == pytest.approx(line.gross * density * parts[0]["share_pct"] / 100, rel=0.02)
