"""May the work be done in the room as it is now?

The chain is the one that the job gets in an ordinary room (the job file's defaults for air and part), so that a
damp day does not quietly change the adhesive; what the rules say of that chain in the room as it is decides:

- `stop`: a rule blocks; or the part is at the dew point or below it, and wet; or the activation has faded;
- `wait`: a rule needs something done first, or cautions with a weight of `wait_from_points` or more;
- `go`: everything else. Lighter cautions and unknown facts are findings to be read. A caution about the kind of
  part alone (a board with components, say) reads no fact of the room and has no voice here.

Only rules that read the room's air or the part's temperature are asked; vapour is `estimate`'s business.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil, floor
from typing import Any

from kb import calc
from kb.clauses import NUMERIC, AnyOf, Clause, Missing, Ref, Scene, all_of
from kb.engine.explain import chain_findings, scene_with
from kb.engine.plan import Chain, Engine
from kb.engine.rank import Ranking
from kb.engine.slots import bindings
from kb.errors import BadInput
from kb.findings import Finding, distinct
from kb.job import Bench, Job
from kb.knowledge import Entry
from kb.quantities import Remark
from kb.rules import SLOT_ROLES, Rule

VERDICTS = ("go", "wait", "stop")
_SLACK = 1e-9
#: Readings of the room that decide; its size and air changes are about vapour.
READINGS = ("air_temperature_c", "relative_humidity_pct", "part_temperature_c")


@dataclass(frozen=True)
class Psychrometrics:
    """The psychrometrics of the bench. Perfectly dry air has no dew point; what isn't known is None."""

    dew_point_c: float | None
    phase: str | None
    margin_c: float | None
    humidity_ratio_g_kg: float
    humidity_at_part_pct: float | None


@dataclass(frozen=True)
class Fitness:
    """The verdict on the room, and what it rests on: findings of rules, remarks, and what to change."""

    chain: Chain
    room: Bench
    air: Psychrometrics
    verdict: str
    findings: tuple[Finding, ...]
    remarks: tuple[Remark, ...]
    changes: tuple[str, ...]


def ordinary(job: Job) -> Job:
    """The job in an ordinary room of the same size and ventilation."""
    usual = Bench(room_volume_m3=job.bench.room_volume_m3, air_changes_per_h=job.bench.air_changes_per_h)
    return job.model_copy(update={"bench": usual})


def fitness(engine: Engine, job: Job, substrate: Entry, chain: Chain, activated_h: float | None = None) -> Fitness:
    """The room of `job` for `chain`, which was planned for `ordinary(job)`.

    `activated_h` [h]: how long ago the surface (or the gauge) was treated, where it was.
    """
    figures = engine.knowledge.tables["usage"]["bench"]
    scene: dict[str, Any] = {"substrate": substrate.facts, **job.facts(substrate.facts), "chain": {}}
    asked = [r for r in engine.knowledge.rules if {f"bench.{name}" for name in READINGS} & set(r.facts())]
    # A rule that must be told of the whole chain, or that only excuses a stage, says nothing of the room.
    found = distinct(chain_findings([r for r in asked if not r.omits], scene, chain.picks))
    found = [f for f in found if f.rule.verdict != "prefer"]
    air = psychrometrics(job.bench)
    if air.dew_point_c is None:
        # What hangs on a dew point that isn't there is said in a remark.
        found = [f for f in found if f.known or f.unknown]
    remarks = [*_dew(air, figures["stop_margin_c"]), *_activation(chain, activated_h)]
    ranking = Ranking(engine.knowledge.tables["ranking"])
    verdicts = [_of_finding(f, ranking, figures["wait_from_points"]) for f in found]
    verdicts += ["stop" for r in remarks if r.verdict == "need"]
    return Fitness(
        chain=chain,
        room=job.bench,
        air=air,
        verdict=max(verdicts, key=VERDICTS.index, default="go"),
        findings=tuple(found),
        remarks=tuple(remarks),
        changes=tuple(str(move) for move in _changes(found, scene, chain, job.bench)),
    )


def psychrometrics(room: Bench) -> Psychrometrics:
    """Dew point (frost point below 0 degC), margin, humidity ratio, and the humidity that the part's own face sees.

    Source: ASHRAE Handbook Fundamentals 2017 ch. 1, through psychrolib.

    >>> found = psychrometrics(Bench())
    >>> round(found.dew_point_c, 1), round(found.margin_c, 1), round(found.humidity_at_part_pct)
    (9.5, 12.5, 45)
    >>> psychrometrics(Bench(relative_humidity_pct=0)).dew_point_c is None
    True
    """
    import psychrolib

    psychrolib.SetUnitSystem(psychrolib.SI)
    share = room.relative_humidity_pct / 100
    ratio = psychrolib.GetHumRatioFromRelHum(room.air_temperature_c, share, 101325.0)
    if not share:
        return Psychrometrics(None, None, None, 0.0, 0.0)
    vapour_pa = psychrolib.GetVapPresFromRelHum(room.air_temperature_c, share)
    try:
        dew = calc.function("dew-point")(room.air_temperature_c, room.relative_humidity_pct, room.part_temperature_c)
    except (ValueError, ArithmeticError):
        # Drier than the equations go: far below any part.
        return Psychrometrics(None, None, None, 1000 * ratio, None)
    at_part = None
    if -100 < room.part_temperature_c < 200:
        at_part = min(100.0, 100 * vapour_pa / psychrolib.GetSatVapPres(room.part_temperature_c))
    return Psychrometrics(dew["dew_point_c"], dew["phase"], dew["margin_c"], 1000 * ratio, at_part)


def _of_finding(finding: Finding, ranking: Ranking, wait_from: float) -> str:
    if finding.known and finding.rule.verdict == "block":
        return "stop"
    if finding.known and finding.rule.verdict == "need":
        # A need that an item of the chain supplies is met; one that asks for a step or a wait is still to be done.
        return "go" if finding.met and finding.rule.needs else "wait"
    return "wait" if ranking.of_rule(finding.rule, finding.known)[1] >= wait_from else "go"


def _dew(air: Psychrometrics, stop_margin_c: float) -> Iterator[Remark]:
    if air.dew_point_c is None:
        yield Remark(
            "air-without-dew-point",
            "caution",
            (),
            "the air is too dry to have a dew point: check the hygrometer",
            "A room is hardly ever that dry; a reading of 0 % is mostly an instrument at fault.",
            "hold the instrument over a wet cloth: it must rise",
        )
    elif air.margin_c is not None and air.margin_c <= stop_margin_c:
        yield Remark(
            "part-at-dew-point",
            "need",
            (),
            f"the part stands {air.margin_c:.1f} K above the dew point of {air.dew_point_c:.1f} degC: "
            f"{air.phase} lies on it",
            "Nothing bonds through water or ice; what is wet is cleaned again once it is warm and dry.",
            "warm the part, let it dry, and begin again with the degreasing",
        )


def _activation(chain: Chain, activated_h: float | None) -> Iterator[Remark]:
    entry = chain.pick("treatment").entry
    if activated_h is None:
        return
    if activated_h < 0:
        raise BadInput("--activated-h", f"{activated_h:g} h is before the treatment", "give hours since it, 0 or more")
    lasts_h = entry.facts.get("lasts_h") if entry else None
    if entry is None or lasts_h is None:
        told = f"how long {entry.name} lasts is not known" if entry else "this chain has no treatment that could fade"
        yield Remark(
            "activation-not-known",
            "caution",
            (entry.id,) if entry else (),
            told,
            "A surface that was activated goes back to what it was.",
            "try a drop of water at the edge: it must spread" if entry else "",
        )
    elif activated_h > lasts_h:
        yield Remark(
            "activation-faded",
            "need",
            (entry.id,),
            f"{entry.name} lasts {lasts_h:g} h and was done {activated_h:g} h ago",
            "A surface that was activated goes back to what it was, and is no longer the surface that was planned.",
            "treat again, and bond in time",
            basis=str(entry.facts["basis"]),
        )


@dataclass(frozen=True, slots=True)
class Move:
    """How a reading of the room must change for a rule to fall silent: up or down to `target`; or else `instead`."""

    reading: str
    falls: bool
    target: float
    instead: str = ""

    def __str__(self) -> str:
        """What to do.

        >>> print(Move("part_temperature_c", False, 14.26), "/", Move("relative_humidity_pct", True, 65.0))
        warm the part to 14.3 degC or more / dry the room to 65 % or less
        """
        if self.reading == "relative_humidity_pct":
            verb, thing, unit = "dry" if self.falls else "humidify", "room", "%"
        else:
            thing = "part" if self.reading == "part_temperature_c" else "room"
            verb, unit = "cool" if self.falls else "warm", "degC"
        # Rounded to the safe side: what is told must be enough.
        tenths = floor(10 * self.target + _SLACK) if self.falls else ceil(10 * self.target - _SLACK)
        said = f"{verb} the {thing} to {tenths / 10:g} {unit} or {'less' if self.falls else 'more'}"
        return f"{said}, or {self.instead}" if self.instead else said


def _changes(found: Sequence[Finding], scene: Scene, chain: Chain, room: Bench) -> list[Move]:
    """What would silence the findings, worked out from the very conditions that hold: of each kind the furthest."""
    by_slot = dict(enumerate(chain.picks))
    furthest: dict[tuple[str, bool], Move] = {}
    for finding in found:
        roles = frozenset(r for r in finding.rule.roles() if r in SLOT_ROLES)
        for binding in bindings(roles) if finding.known else ():
            for move in _silencing(finding.rule, scene_with(scene, binding, by_slot), room):
                known = furthest.setdefault((move.reading, move.falls), move)
                if (move.target < known.target) if move.falls else (move.target > known.target):
                    furthest[move.reading, move.falls] = move
    return [furthest[key] for key in sorted(furthest)]


def _silencing(rule: Rule, scene: Scene, room: Bench) -> Iterator[Move]:
    """Every move of a reading that undoes a condition of a rule that holds in `scene`."""
    if all_of(condition.truth(scene) for condition in rule.when) is not True:
        return
    for condition in rule.when:
        for clause in condition.clauses if isinstance(condition, AnyOf) else (condition,):
            if clause.truth(scene) and (move := _undone(clause, scene, room)) is not None:
                yield move


def _undone(clause: Clause, scene: Scene, room: Bench) -> Move | None:
    """How a reading must move for a condition to hold no longer; None where no reading of the room moves it."""
    left, right = clause.sides(scene)
    if clause.op not in NUMERIC or isinstance(left, Missing) or isinstance(right, Missing):
        return None
    falls = clause.op in ("above", "at-least")
    if isinstance(clause.fact, str):
        role, _, reading = clause.fact.partition(".")
        return Move(reading, falls, right) if role == "bench" and reading in READINGS else None
    if clause.fact.name != "dew-point" or not isinstance(clause.value, Ref):
        return None
    drier = _dry_enough(room, room.part_temperature_c + clause.value.plus)
    instead = "" if drier is None else str(Move("relative_humidity_pct", True, drier))
    return Move("part_temperature_c", False, left - clause.value.plus, instead)


def _dry_enough(room: Bench, dew_c: float) -> int | None:
    """The relative humidity [%] at which the room's dew point is `dew_c` [degC]; None where no drying would do."""
    import psychrolib

    if not -60 < dew_c < room.air_temperature_c:
        return None
    psychrolib.SetUnitSystem(psychrolib.SI)
    share = psychrolib.GetRelHumFromTDewPoint(room.air_temperature_c, dew_c)
    # Whole per cent, on the dry side, and nothing that no room reaches.
    whole = int(100 * share)
    return whole if whole >= 10 else None
