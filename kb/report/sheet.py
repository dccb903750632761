"""The bench sheet: one printed file to work from and to write in, for one part or for a whole batch."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice, product
from typing import Any

from kb.base.units import degrees
from kb.calc import function
from kb.engine.chain import Chain
from kb.engine.plan import Plan
from kb.knowledge import Knowledge
from kb.materials.resolve import Resolved
from kb.planning.gauge import wanted_of_gauge
from kb.planning.procedure import Step, procedure
from kb.quantities.moves import READINGS
from kb.quantities.windows import Window, windows
from kb.report.first import bond_words
from kb.report.form import Paper, common, named
from kb.report.hazards import Dust, Hazards, dust_of, hazards_of, wording
from kb.report.pages import render
from kb.report.pictures.pictograms import Pictogram, pictograms
from kb.report.reading import must_know
from kb.rules.clauses import Calculation, Clause, Ref
from kb.rules.words import duration, message, shown
from kb.work.picking import Picked

#: As many columns for gauges as a portrait page holds; with more, each has a row, up to three pages of them.
MOST_COLUMNS, MOST_ROWS = 6, 90
#: A wait of so many seconds or more is told at the top of the sheet.
LONG_WAIT_S = 600


@dataclass(frozen=True, slots=True)
class Reading:
    """Something to read off at the bench: what the job foresees, and what is allowed."""

    what: str
    foreseen: str
    allowed: str


@dataclass(frozen=True, slots=True)
class Check:
    """An acceptance check of a step: a quantity with its limit, or what the step itself says, by yes or no."""

    step: int
    what: str
    limit: str


@dataclass(frozen=True, slots=True)
class Proposed:
    """The lots that the shelf would give for an item, and until when each may be used; what is short, in words."""

    lots: tuple[tuple[str, str], ...]
    short: str


def bench_sheet(plan: Plan, resolved: Resolved, chain: Chain, paper: Paper = "a4", picked: Picked | None = None) -> str:
    """Give the sheet for `chain` as one self-contained page of HTML.

    With `picked` the lots that it takes stand in the table, as a proposal to be confirmed at the shelf.
    """
    steps = procedure(plan, chain)
    batch = plan.job.batch
    # Part and gauge of each installation, in the order in which the record numbers them.
    places = product(range(1, batch.boards + 1), range(1, batch.gauges_per_board + 1))
    in_columns = batch.boards == 1 and batch.gauges_per_board <= MOST_COLUMNS
    return render(
        "sheet.html",
        **common(plan, resolved, chain, "bench", paper),
        bond=bond_words(chain),
        wanted=[(f.rule, message(f)) for f in wanted_of_gauge(plan)],
        waits=list(_waits(steps)),
        stages=list(_stages(steps)),
        readings=list(readings(plan, chain)),
        checks=list(checks(steps)),
        columns=batch.gauges_per_board if in_columns else 0,
        rows_of_batch=[] if in_columns else list(islice(places, MOST_ROWS)),
        left_out=max(0, batch.boards * batch.gauges_per_board - MOST_ROWS),
        cautions=[
            {"verdict": f.verdict, "message": message(f), "because": f.rule.because, "rule": f.rule.id}
            | {"basis": ": ".join([f.rule.basis, ", ".join(f.rule.sources)]).removesuffix(": ")}
            for f in must_know(plan, chain)
        ],
        picked_on=picked.on if picked else "",
        proposed=dict(_proposed(picked)) if picked else {},
        hazards=_with_signs(hazards_of(chain, plan.knowledge)),
        dusts=_with_signs(dust_of(plan.substrate.facts, plan.knowledge)) if _abrades(chain) else [],
        limits_as_of=plan.knowledge.tables["mixtures"]["as_of"],
        wording=wording(),
    )


def _with_signs(found: Sequence[Hazards] | Sequence[Dust]) -> list[tuple[Hazards | Dust, list[Pictogram]]]:
    """Materials or dusts, each with the pictograms of its statements."""
    return [(one, pictograms(said.code for said in one.statements)) for one in found]


def _waits(steps: Sequence[Step]) -> Iterator[tuple[int, str]]:
    """Give the waits that are long enough to plan by, with the numbers of their steps."""
    for number, step in enumerate(steps, start=1):
        if step.wait_s >= LONG_WAIT_S:
            yield number, f"{duration(step.wait_s / 60)}{f', {step.wait_for}' if step.wait_for else ''}"


def _abrades(chain: Chain) -> bool:
    return any(option.entry is not None and option.entry.kind == "abrasive" for option in chain.picks)


def _proposed(picked: Picked) -> Iterator[tuple[str, Proposed]]:
    for line in picked.lines:
        lots = tuple((take.lot, take.usable_until or "not known") for take in line.takes)
        short = f"{shown(round(float(line.short), 1))} {line.need.unit}" if line.short else ""
        yield line.need.item, Proposed(lots, short)


def _stages(steps: Sequence[Step]) -> Iterator[tuple[str, list[dict[str, Any]]]]:
    """Give the steps by stage, numbered through as the plan numbers them."""
    stage, numbered = "", list[dict[str, Any]]()
    for number, step in enumerate(steps, start=1):
        if step.stage != stage and numbered:
            yield stage, numbered
            numbered = []
        stage = step.stage
        wait = duration(step.wait_s / 60) if step.wait_s else ""
        numbered.append({"number": number, "step": step, "wait": wait})
    if numbered:
        yield stage, numbered


def checks(steps: Sequence[Step]) -> Iterator[Check]:
    """Give every step with a limit, and the others of the last stage."""
    for number, step in enumerate(steps, start=1):
        limit = step.limit
        if limit is not None:
            ends = [
                f"{words} {shown(limit[name])} {limit['unit']}"
                for name, words in (("at_least", "at least"), ("at_most", "at most"))
                if limit[name] is not None
            ]
            yield Check(number, named(limit["quantity"], limit["unit"]), " and ".join(ends))
        elif step.stage == "verify":
            yield Check(number, "as the step says", "yes")


def readings(plan: Plan, chain: Chain) -> Iterator[Reading]:
    """Give the room and the part: foreseen by the job, and allowed by all that speaks of the room at the bench."""
    bench, allowed = plan.job.bench, windows(plan, chain)
    dew = function("dew-point")(
        air_temperature_c=bench.air_temperature_c, relative_humidity_pct=bench.relative_humidity_pct
    )["dew_point_c"]
    margin = dew_margin(plan.knowledge)
    above = f"the part at least {degrees(margin)} degC above it" if margin else ""
    air, humidity, part = (_allowed(allowed[name]) for name in READINGS)
    yield Reading("air temperature, degC", degrees(bench.air_temperature_c), air)
    yield Reading("relative humidity, %", shown(bench.relative_humidity_pct), humidity)
    yield Reading("dew point, degC", f"{dew:.1f}", above)
    yield Reading("part temperature, degC", degrees(bench.part_temperature_c), part)


def _allowed(window: Window) -> str:
    """Write a window.

    >>> _allowed(Window(15.0, 30.0)), _allowed(Window(15.0, None)), _allowed(Window(None, 60.0))
    ('15 to 30', '15 or more', '60 or less')
    """
    if window.least is not None and window.most is not None:
        return shown(tuple(window))
    if window.least is not None:
        return f"{shown(window.least)} or more"
    return f"{shown(window.most)} or less" if window.most is not None else ""


def dew_margin(knowledge: Knowledge) -> float | None:
    """Tell how far the rules want the part above the dew point [K]: the widest of them; None where none asks."""
    margins = [
        -c.value.plus
        for rule in knowledge.rules
        for c in rule.when
        if isinstance(c, Clause) and isinstance(c.fact, Calculation) and c.fact.name == "dew-point"
        if isinstance(c.value, Ref) and c.value.fact == "bench.part_temperature_c"
    ]
    return max(margins, default=None)
