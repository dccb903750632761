"""The room: go, wait or stop, and that what is told to change is enough."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest

from kb.base.errors import BadInput
from kb.engine.plan import Engine
from kb.quantities.bench import Fitness, fitness, ordinary, psychrometrics
from kb.quantities.moves import _of_reading
from kb.report.bench import bench_json, bench_text
from kb.rules.clauses import Clause
from tests.quantities.jobs import BOARD, BRACKET, GIRDER, job_with, planned, substrate_of, with_adhesive

CYANOACRYLATE = "ethyl-cyanoacrylate-low-viscosity"


def judged(engine: Engine, activated_h: float | None = None, adhesive: str = CYANOACRYLATE, **room: Any) -> Fitness:
    """A board with that adhesive in a room."""
    job = job_with(BOARD, bench=room)
    _, chain = with_adhesive(ordinary(job), engine, adhesive)
    return fitness(engine, job, substrate_of(job, engine), chain, activated_h)


def test_an_ordinary_room_is_fit(engine: Engine) -> None:
    found = judged(engine)
    assert (found.verdict, found.changes) == ("go", ())
    assert found.air.dew_point_c == pytest.approx(9.5, abs=0.1)  # published: 22 degC, 45 %
    assert found.air.margin_c == pytest.approx(12.5, abs=0.1)


def test_what_nobody_has_measured_is_said(engine: Engine) -> None:
    found = judged(engine)
    assert [remark.rule for remark in found.remarks] == ["room-not-measured"]
    assert "air 22 degC, humidity 45 %, part 22 degC" in found.remarks[0].message
    assert bench_text(found).startswith("GO, if the room is as it is assumed here")
    assert "room-not-measured" in [f["rule"] for f in bench_json(found)["findings"]]
    half = judged(engine, air_temperature_c=22, relative_humidity_pct=45)
    assert half.remarks[0].message.endswith(": part 22 degC")
    measured = judged(engine, air_temperature_c=22, relative_humidity_pct=45, part_temperature_c=22)
    assert measured.remarks == ()
    assert bench_text(measured).startswith("GO: nothing in the room")


def test_a_room_that_is_fit_with_something_to_mind_says_so_of_a_welded_gauge_too(engine: Engine) -> None:
    steam = {"temperature_c": [10, 130], "exposures": ["steam"], "duration_days": 20}
    damp = {"air_temperature_c": 27, "relative_humidity_pct": 78, "part_temperature_c": 24}
    job = job_with({"part": {"substrate": "1.4571", "thickness_mm": 3.0}, "service": steam, "bench": damp})
    _, chain = planned(ordinary(job), engine)
    found = fitness(engine, job, substrate_of(job, engine), chain)
    said = bench_text(found)
    assert (found.verdict, [f.rule.id for f in found.findings]) == ("go", ["fast-solvent-draws-dew"])
    assert said.startswith("GO: it may be done; read first what is said below")
    assert "Chain: hermetic gauge in a stainless tube, spot-welded" in said


@pytest.mark.parametrize(
    ("room", "verdict", "rule", "change"),
    [
        ({"relative_humidity_pct": 12}, "wait", "room-too-dry-for-accelerator", "humidify the room to 30 % or more"),
        ({"relative_humidity_pct": 72}, "wait", "room-too-damp-for-adhesive", "dry the room to 60 % or less"),
        ({"part_temperature_c": 14}, "wait", "part-too-cold-for-adhesive", "warm the part to 15 degC or more"),
        ({"part_temperature_c": 33}, "wait", "part-too-warm-for-adhesive", "cool the part to 30 degC or less"),
        ({"part_temperature_c": 12}, "wait", "part-near-dew-point", "warm the part to 15 degC or more"),
        ({"part_temperature_c": 9}, "stop", "part-near-dew-point", "warm the part to 15 degC or more"),
        ({"part_temperature_c": 60}, "stop", "hot-part-is-cooled", "cool the part to 30 degC or less"),
    ],
)
def test_rooms(engine: Engine, room: dict[str, Any], verdict: str, rule: str, change: str) -> None:
    found = judged(engine, **room)
    assert found.verdict == verdict
    assert rule in {f.rule.id for f in found.findings}
    assert change in found.changes


def test_the_accelerator_does_the_water_s_work_in_a_dry_room(engine: Engine) -> None:
    found = judged(engine, relative_humidity_pct=20)
    assert found.verdict == "go"
    assert "accelerator-in-a-dry-room" in {f.rule.id for f in found.findings}


@pytest.mark.parametrize(
    "room",
    [
        {"relative_humidity_pct": 12},
        {"relative_humidity_pct": 95},
        {"part_temperature_c": 2},
        {"part_temperature_c": 45},
        {"air_temperature_c": 30, "relative_humidity_pct": 85, "part_temperature_c": 20},
        {"air_temperature_c": 30, "relative_humidity_pct": 64, "part_temperature_c": 23},
    ],
)
def test_what_is_told_to_change_is_enough(engine: Engine, room: dict[str, Any]) -> None:
    """Done as told, the room lets the work begin."""
    found = judged(engine, **room)
    assert found.verdict != "go"
    mended: dict[str, Any] = dict(room)
    for change in found.changes:
        told = re.match(r"(\w+) the (\w+) to ([\d.-]+)", change)
        assert told is not None, change
        verb, thing, value = told.groups()
        name = (
            "relative_humidity_pct" if verb in ("dry", "humidify") else f"{thing}_temperature_c".replace("room", "air")
        )
        mended[name] = float(value)
    assert judged(engine, **mended).verdict == "go", (found.changes, mended)


def test_or_drying_the_room_is_enough_too(engine: Engine) -> None:
    """The other way out of a dew point that is too near."""
    room: dict[str, Any] = {"air_temperature_c": 25, "relative_humidity_pct": 60, "part_temperature_c": 19}
    found = judged(engine, **room)
    (change,) = (c for c in found.changes if "or dry" in c)
    drier = float(change.split("room to ")[1].split()[0])
    assert judged(engine, **{**room, "relative_humidity_pct": drier}).verdict == "go"
    assert judged(engine, **{**room, "relative_humidity_pct": drier + 2}).verdict == "wait"


@pytest.mark.parametrize(
    ("fact", "op", "told"),
    [
        ("bench.relative_humidity_pct", "at-least", "dry the room to 69 % or less"),
        ("bench.relative_humidity_pct", "above", "dry the room to 70 % or less"),
        ("bench.relative_humidity_pct", "at-most", "humidify the room to 71 % or more"),
        ("bench.part_temperature_c", "at-least", "cool the part to 69.9 degC or less"),
    ],
)
def test_a_limit_at_which_a_rule_still_speaks_is_passed(fact: str, op: Any, told: str) -> None:
    assert str(_of_reading(Clause(fact, op, 70), None, 70)) == told


def test_perfectly_dry_air_has_no_dew_point(engine: Engine) -> None:
    found = judged(engine, relative_humidity_pct=0)
    assert (found.verdict, found.air.dew_point_c, found.air.margin_c) == ("wait", None, None)
    assert "part-near-dew-point" not in {f.rule.id for f in found.findings}
    assert "air-without-dew-point" in {r.rule for r in found.remarks}
    json.dumps(bench_json(found), allow_nan=False)
    assert "none, the air is too dry" in bench_text(found)


@pytest.mark.parametrize("humidity", [0, 1e-9, 0.01, 0.5, 50, 99.9, 100])
@pytest.mark.parametrize("air", [-60, -20, 0, 22, 80])
@pytest.mark.parametrize("part", [-273.15, -50, 0, 22, 400])
def test_no_room_crashes_it(engine: Engine, humidity: float, air: float, part: float) -> None:
    found = judged(engine, relative_humidity_pct=humidity, air_temperature_c=air, part_temperature_c=part)
    json.dumps(bench_json(found), allow_nan=False)
    assert bench_text(found)
    if found.air.margin_c is not None and found.air.margin_c <= 0:
        assert found.verdict == "stop"


def test_frost(engine: Engine) -> None:
    found = judged(engine, air_temperature_c=5, relative_humidity_pct=30, part_temperature_c=-15)
    assert (found.air.phase, found.verdict) == ("frost", "stop")
    assert "Frost point" in bench_text(found)


def test_a_light_caution_does_not_hold_work_up(engine: Engine) -> None:
    """A fast solvent in damp air weighs 30 points: it is told, and the work may go on."""
    plan, _ = planned(job_with(BRACKET), engine)

    from kb.engine.slots import INDEX

    _, chain = with_adhesive(job_with(BRACKET), engine, "epoxy-room-cure-two-part", "room")
    slot = INDEX["degreaser"]
    acetone = next(o for o in plan.screened.domains[slot].options if o.id == "acetone")
    chain = chain._replace(picks=(acetone, *chain.picks[slot + 1 :]))
    job = job_with(BRACKET, bench={"relative_humidity_pct": 70})
    found = fitness(engine, job, substrate_of(job, engine), chain)
    light = [f for f in found.findings if f.rule.id == "fast-solvent-draws-dew"]
    assert len(light) == 1
    slight = ("free", "remark", "reminder", "care", "nuisance")
    heavy = [f for f in found.findings if f.rule.id != "fast-solvent-draws-dew" and f.rule.level not in slight]
    assert found.verdict == ("wait" if heavy else "go")


def test_a_damp_day_does_not_change_the_adhesive(engine: Engine) -> None:
    """The chain is the one for an ordinary room, whatever the room is like today."""
    damp, fair = (job_with(BOARD, bench={"relative_humidity_pct": h}) for h in (95, 45))
    assert planned(ordinary(damp), engine)[1].picks == planned(ordinary(fair), engine)[1].picks
    kept = ordinary(job_with(BOARD, bench={"room_volume_m3": 7, "air_changes_per_h": 1})).bench
    assert (kept.room_volume_m3, kept.air_changes_per_h) == (7, 1)


def test_a_chain_that_the_room_turns_is_named(engine: Engine) -> None:
    """The plan of the job as it is takes another coat than the chain that is judged; else nothing is said of it."""
    job = job_with(GIRDER)
    substrate = substrate_of(job, engine)
    _, usual = planned(ordinary(job), engine)
    _, here = planned(job, engine)
    assert here.key != usual.key
    (told,) = [
        r for r in fitness(engine, job, substrate, usual, None, here).remarks if r.rule == "room-turns-the-chain"
    ]
    for one, two in zip(here.picks, usual.picks, strict=True):
        named = f"{one.entry.name if one.entry else 'nothing'} instead of {two.entry.name if two.entry else 'nothing'}"
        assert (named in told.message) == (one.id != two.id)
    for same in (usual, None):
        remarks = fitness(engine, job, substrate, usual, None, same).remarks
        assert "room-turns-the-chain" not in {r.rule for r in remarks}


@pytest.mark.parametrize(("hours", "verdict"), [(0.0, "go"), (1.0, "go"), (1.1, "stop"), (48.0, "stop")])
def test_activation_fades(engine: Engine, hours: float, verdict: str) -> None:
    """The accelerator of the board's chain lasts an hour."""
    found = judged(engine, activated_h=hours)
    treatment = found.chain.pick("treatment").entry
    assert treatment is not None
    assert treatment.facts["lasts_h"] == 1
    assert found.verdict == verdict


def test_activation_of_nothing_is_said(engine: Engine) -> None:

    from kb.engine.slots import INDEX

    job = job_with(BOARD)
    plan, chain = planned(job, engine)
    slot = INDEX["treatment"]
    empty = next(o for o in plan.screened.domains[slot].options if o.entry is None)
    bare = chain._replace(picks=(*chain.picks[:slot], empty, *chain.picks[slot + 1 :]))
    found = fitness(engine, job, substrate_of(job, engine), bare, 5.0)
    assert found.verdict == "go"
    assert "activation-not-known" in {r.rule for r in found.remarks}


def test_hours_before_the_treatment_are_refused(engine: Engine) -> None:
    with pytest.raises(BadInput, match="--activated-h"):
        judged(engine, activated_h=-1.0)


def test_humidity_at_the_part() -> None:
    """Air at its dew point is full: a part there sees 100 %, one as warm as the air what the hygrometer reads."""
    air = psychrometrics(job_with(BOARD).bench)
    assert air.humidity_at_part_pct == pytest.approx(45)
    assert air.dew_point_c is not None
    cold = psychrometrics(job_with(BOARD, bench={"part_temperature_c": air.dew_point_c}).bench)
    assert cold.humidity_at_part_pct == pytest.approx(100, abs=0.1)


def test_document_has_the_contracts_fields(engine: Engine) -> None:
    document = bench_json(judged(engine, relative_humidity_pct=90))
    assert document["schema"] == "tackroom.bench/1"
    assert set(document) >= {"dew_point_c", "margin_c", "verdict", "findings"}
    assert all(
        {"rule", "verdict", "about", "message", "because", "basis", "sources"} <= set(f) for f in document["findings"]
    )
