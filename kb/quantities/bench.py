"""May the work be done in the room as it is now?

The chain is the one that the job gets in an ordinary room (the job file's defaults for air and part), so that a
damp day does not quietly change the adhesive; what the rules say of that chain in the room as it is decides:

- `stop`: a rule blocks; or the part is at the dew point or below it, and wet; or the activation has faded;
- `wait`: a rule needs something done first, or cautions of the level `wait_from` or more;
- `go`: everything else, also where a reading is only assumed, which is said. Lighter cautions and unknown facts are
  findings to be read. A caution about the kind of part alone (a board with components, say) reads no fact of the room
  and has no voice here.

Only rules that read the room's air or the part's temperature are asked; vapour is `estimate`'s business.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from kb.base.errors import BadInput
from kb.engine.chain import Chain, findings_of
from kb.engine.plan import Engine
from kb.engine.rank import Ranking
from kb.job import Bench, Job
from kb.knowledge import Entry
from kb.quantities import Remark
from kb.quantities.moves import READINGS, changes
from kb.rules.findings import Finding, distinct
from kb.rules.words import named

VERDICTS = ("go", "wait", "stop")
#: What each reading is of, in a word.
_READ = dict(zip(READINGS, ("air", "humidity", "part"), strict=True))


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
    """Give the job in an ordinary room of the same size and ventilation."""
    usual = Bench(room_volume_m3=job.bench.room_volume_m3, air_changes_per_h=job.bench.air_changes_per_h)
    return job.model_copy(update={"bench": usual})


def fitness(
    engine: Engine,
    job: Job,
    substrate: Entry,
    chain: Chain,
    activated_h: float | None = None,
    planned_here: Chain | None = None,
) -> Fitness:
    """Judge the room of `job` for `chain`: the one for `ordinary(job)`, or one that is being worked on.

    `activated_h` [h]: how long ago the surface (or the gauge) was treated, where it was. `planned_here` is the chain of
    that rank for the room as it is: in what it differs is said.
    """
    figures = engine.knowledge.tables["usage"]["bench"]
    here = engine.screened(job, substrate)
    positions = [domain.options.index(option) for domain, option in zip(here.domains, chain.picks, strict=True)]
    readings = {f"bench.{name}" for name in READINGS}
    found = [
        finding
        for finding in distinct(findings_of(here, positions))
        if finding.rule.verdict != "prefer" and readings & set(finding.rule.facts())
    ]
    air = psychrometrics(job.bench)
    if air.dew_point_c is None:
        # What hangs on a dew point that isn't there is said in a remark.
        found = [f for f in found if f.known or f.unknown]
    remarks = [*_assumed(job.bench), *_dew(air, figures["stop_margin_c"]), *_activation(chain, activated_h)]
    remarks += _otherwise(chain, planned_here or chain)
    verdicts = [verdict_of(finding, here.ranking, figures["wait_from"]) for finding in found]
    verdicts += ["stop" for r in remarks if r.verdict == "need"]
    return Fitness(
        chain=chain,
        room=job.bench,
        air=air,
        verdict=max(verdicts, key=VERDICTS.index, default="go"),
        findings=tuple(found),
        remarks=tuple(remarks),
        changes=tuple(map(str, changes(found, here.scene, chain, job.bench, figures["driest_pct"]))),
    )


def psychrometrics(room: Bench) -> Psychrometrics:
    """Work out dew point (frost point below 0 degC), margin, humidity ratio, and humidity at the part's own face.

    Source: ASHRAE Handbook Fundamentals 2017 ch. 1, through psychrolib.

    >>> found = psychrometrics(Bench())
    >>> round(found.dew_point_c, 1), round(found.margin_c, 1), round(found.humidity_at_part_pct)
    (9.5, 12.5, 45)
    >>> psychrometrics(Bench(relative_humidity_pct=0)).dew_point_c is None
    True
    """
    from kb.calc import climate

    air_c, humidity_pct, part_c = room.air_temperature_c, room.relative_humidity_pct, room.part_temperature_c
    if not humidity_pct:
        return Psychrometrics(None, None, None, 0.0, 0.0)
    ratio = climate.humidity_ratio_g_kg(air_c, humidity_pct)
    try:
        dew = climate.dew_point(air_c, humidity_pct, part_c)
    except (ValueError, ArithmeticError):
        # Drier than the equations go: far below any part.
        return Psychrometrics(None, None, None, ratio, None)
    at_part = climate.humidity_at_part_pct(air_c, humidity_pct, part_c)
    return Psychrometrics(dew["dew_point_c"], dew["phase"], dew["margin_c"], ratio, at_part)


def verdict_of(finding: Finding, ranking: Ranking, wait_from: str) -> str:
    """Tell what one finding says of the room; a caution lets the work wait from the level `wait_from` on."""
    if finding.known and finding.rule.verdict == "block":
        return "stop"
    if finding.known and finding.rule.verdict == "need":
        # A need that an item of the chain supplies is met; one that asks for a step or a wait is still to be done.
        return "go" if finding.met and finding.rule.needs else "wait"
    return "wait" if ranking.of_rule(finding.rule, finding.known).points >= ranking.levels_of[wait_from] else "go"


def _assumed(room: Bench) -> Iterator[Remark]:
    """Say which readings nobody has taken, and what stands for them."""
    if assumed := assumed_in(room):
        values = (f"{_READ[name]} {getattr(room, name):g} {named(name)[1]}" for name in assumed)
        yield Remark(
            "room-not-measured",
            "caution",
            (),
            f"nobody has measured it, and an ordinary room is assumed: {', '.join(values)}",
            "What may be done hangs on the air and the part at the bench, and a site is no ordinary room.",
            f"measure at the part, and write {', '.join(assumed)} under [bench] of the job",
        )


def assumed_in(room: Bench) -> list[str]:
    """List the readings that no job has given."""
    return [name for name in READINGS if name not in room.model_fields_set]


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


def _otherwise(chain: Chain, here: Chain) -> Iterator[Remark]:
    """Say in what the chain that the plan takes for the room as it is differs from the one that is judged."""
    pairs = zip(here.picks, chain.picks, strict=True)
    differ = [(one.entry, two.entry) for one, two in pairs if (one.id, one.cure) != (two.id, two.cure)]
    if differ:
        swaps = (
            f"{_name(one)} instead of {_name(two)}" if one != two else f"{_name(one)} cured otherwise"
            for one, two in differ
        )
        yield Remark(
            "room-turns-the-chain",
            "caution",
            tuple(entry.id for pair in differ for entry in pair if entry is not None),
            f"for the room as it is the plan takes {', '.join(swaps)}",
            "The chain that is judged here is the one for an ordinary room, so that a bad day changes none in silence.",
            "change the room as it says here; or keep the other in the job: `tackroom choose`",
        )


def _name(entry: Entry | None) -> str:
    return entry.name if entry is not None else "nothing"


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
