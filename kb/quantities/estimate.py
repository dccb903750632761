"""What to bring for a job: attempts, amounts with losses and packs, mixes, the room's air, and waste."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import ceil, floor, fsum

from kb.base.vocabulary import BASES, KINDS, STAGES
from kb.engine.chain import Chain
from kb.engine.plan import Plan
from kb.knowledge import Entry
from kb.quantities import Remark
from kb.quantities.air import Air, Emission, Law, Room, air
from kb.quantities.cautions import of_air, of_lines, of_packs, of_runs
from kb.quantities.counted import assumed_density_g_ml
from kb.quantities.layout import attempts_of, timeline
from kb.quantities.mixes import Mix
from kb.quantities.spread import RUNS, attempts_drawn, factors_drawn, range_of, share_of
from kb.quantities.timeline import Timeline
from kb.quantities.usage import Counts, Use, counts_of, uses
from kb.quantities.waste import Stream, streams

#: Amounts are given to a millionth of their unit; packs cover the amount as given.
_DIGITS = 6
_SLACK = 1e-9


@dataclass(frozen=True)
class Installations:
    """How many to attempt so that enough come out good, and the range of what it may really take."""

    good_needed: int
    attempts: int
    expected_yield: float
    confidence: float
    range: tuple[int, int]


@dataclass(frozen=True)
class Line:
    """One item: what is used, what is lost, both together, the range, and the packs that cover it.

    `pack_size` None: the catalog doesn't say how it is packed, and `packs` is None too.
    """

    entry: Entry
    unit: str
    per_attempt: float
    net: float
    waste: float
    gross: float
    range: tuple[float, float]
    #: What to bring: no less than goes in all but a few of such days, by the job's confidence.
    bring: float
    pack_size: float | None
    packs: int | None
    basis: str
    uses: tuple[Use, ...]


@dataclass(frozen=True)
class Estimate:
    """A chain's day."""

    plan: Plan
    chain: Chain
    installations: Installations
    lines: tuple[Line, ...]
    hours: Timeline
    air: Air
    waste: tuple[Stream, ...]
    remarks: tuple[Remark, ...]

    @property
    def mixes(self) -> tuple[Mix, ...]:
        """The cups of each two-part item, cut from the schedule."""
        return self.hours.mixes

    @property
    def acts(self) -> bool:
        """Whether the air passes a limit: then the user must act before the work starts."""
        return bool(self.air.worst > self.plan.knowledge.tables["usage"]["air"]["stop_share"])


def estimate(plan: Plan, chain: Chain) -> Estimate:
    """Reckon the day of `chain`; BadInput where more attempts would be needed than can be counted."""
    batch = plan.job.batch
    good, share = batch.boards * batch.gauges_per_board, plan.yield_of(chain)
    attempts = attempts_of(batch, share)
    used = uses(plan, chain)
    hours = timeline(plan, chain, attempts)
    mixes = hours.mixes
    counts = counts_of(plan, attempts, {stage: sum(m.number for m in mixes if m.stage == stage) for stage in STAGES})
    drawn = attempts_drawn(good, share, "attempts")
    lines = tuple(_lines(plan, used, mixes, counts, drawn, batch.confidence))
    usage = plan.knowledge.tables["usage"]
    figures = usage["air"]
    shares = (figures["caution_share"], figures["stop_share"])
    room = Room(plan.job.bench.room_volume_m3, plan.job.bench.air_changes_per_h)
    emissions = _emissions(plan, lines, hours, counts)
    planned_on = plan.job.job.planned_on
    law = Law(plan.job.limits.jurisdiction, planned_on.isoformat() if planned_on else None)
    breathed = air(emissions, plan.knowledge.entries, room, shares, figures["most_changes_per_h"], law)
    thrown = [(use, use.net(counts), _lost(use, mixes, counts)) for line in lines for use in line.uses]
    return Estimate(
        plan=plan,
        chain=chain,
        installations=Installations(good, attempts, share, batch.confidence, _ends(range_of(drawn))),
        lines=lines,
        hours=hours,
        air=breathed,
        waste=tuple(streams(thrown, usage["waste"], usage["bins"], _dusty(plan))),
        remarks=(
            *(remark for mix in mixes for remark in mix.remarks),
            *of_air(breathed, room, figures, law),
            *of_lines(chain, {line.entry.id for line in lines}),
            *of_runs([use for line in lines for use in line.uses if use.untold]),
            *of_packs([line.entry for line in lines if line.pack_size is None]),
        ),
    )


def _ends(ends: tuple[float, float]) -> tuple[int, int]:
    return int(ends[0]), int(ends[1])


def _dusty(plan: Plan) -> bool:
    return bool(plan.substrate.facts.get("dust_hazard"))


def _mix_for(use: Use, mixes: Iterable[Mix]) -> Mix | None:
    return next((mix for mix in mixes if mix.entry.id == use.entry.id), None)


def _lost(use: Use, mixes: Sequence[Mix], counts: Counts) -> float:
    """Tell what is lost beside a use; of a mix also what was never used."""
    mix = _mix_for(use, mixes)
    return use.lost(counts) if mix is None else max(use.lost(counts), mix.thrown_away_g)


def _lines(
    plan: Plan,
    used: Sequence[Use],
    mixes: Sequence[Mix],
    counts: Counts,
    drawn: Sequence[int],
    confidence: float,
) -> Iterator[Line]:
    by_item: dict[tuple[str, str], list[Use]] = {}
    for use in used:
        by_item.setdefault((use.entry.id, use.unit), []).append(use)
    by_draw = {n: _counts_at(plan, n, mixes) for n in sorted(set(drawn))}
    for (_, unit), rows in sorted(by_item.items(), key=lambda i: (KINDS.index(i[1][0].entry.kind), i[0])):
        entry = rows[0].entry
        net = round(fsum(use.net(counts) for use in rows), _DIGITS)
        lost = fsum(_lost(use, mixes, counts) for use in rows)
        gross = _whole(net + lost, unit)
        goes = _goes(rows, mixes, by_draw, drawn)
        low, high = range_of(goes)
        bring = max(gross, _whole(max(high, share_of(goes, confidence)), unit))
        yield Line(
            entry=entry,
            unit=unit,
            per_attempt=round(net / counts.attempts, _DIGITS),
            net=net,
            waste=round(gross - net, _DIGITS),
            gross=gross,
            range=(floor(low) if unit == "piece" else round(low, _DIGITS), _whole(high, unit)),
            bring=bring,
            pack_size=rows[0].pack_size,
            packs=None if rows[0].pack_size is None else _packs(bring, rows[0].pack_size),
            basis=max((use.basis for use in rows), key=BASES.index),
            uses=tuple(rows),
        )


def _whole(amount: float, unit: str) -> float:
    """Give an amount as it is brought: pieces are whole.

    >>> _whole(2.2, "piece"), _whole(2.2, "mL")
    (3.0, 2.2)
    """
    return float(ceil(amount - _SLACK)) if unit == "piece" else round(amount, _DIGITS)


def _packs(gross: float, size: float) -> int:
    """Give the fewest packs that hold `gross`.

    >>> _packs(50.6, 100.0), _packs(0.3, 0.1), _packs(0, 5)
    (1, 3, 0)
    """
    packs = ceil(gross / size)
    # The quotient of two floats may be a hair above a whole number.
    return packs - 1 if packs and (packs - 1) * size >= gross else packs


def _counts_at(plan: Plan, attempts: int, mixes: Sequence[Mix]) -> Counts:
    """Give the counts if it takes so many attempts, in mixes of the size that was planned."""
    begun = {stage: sum(_cups(mix, attempts) for mix in mixes if mix.stage == stage) for stage in STAGES}
    return counts_of(plan, attempts, begun)


def _cups(mix: Mix, attempts: int) -> int:
    """Tell how many cups so many attempts take, filled on average as the schedule fills them."""
    planned = sum(cup.installations for cup in mix.cups)
    return max(ceil(attempts / mix.installations_each), ceil(mix.number * attempts / planned - _SLACK))


def _goes(rows: Sequence[Use], mixes: Sequence[Mix], by_draw: dict[int, Counts], drawn: Sequence[int]) -> list[float]:
    """Tell what goes in each of the simulated days."""
    mix = _mix_for(rows[0], mixes)
    if mix is not None:
        # Hands that use more freely still take it out of the cups that were mixed.
        return [_cups(mix, n) * mix.mass_g for n in drawn]
    totals = [0.0] * RUNS
    for number, use in enumerate(rows):
        gross = {n: use.net(counts) + use.lost(counts) for n, counts in by_draw.items()}
        factors = factors_drawn(use.spread, f"{use.entry.id} {use.stage} {number}")
        totals = [total + gross[n] * factor for total, n, factor in zip(totals, drawn, factors, strict=True)]
    return totals


def _emissions(plan: Plan, lines: Sequence[Line], hours: Timeline, counts: Counts) -> dict[str, list[Emission]]:
    """Tell what evaporates, by substance, on the day on which most of it does: while hands are at its stage.

    Nights air the room, so that no day's vapour is counted to another's.
    """
    busy = hours.stretches()
    found: dict[str, list[Emission]] = {}
    for line in lines:
        for use in line.uses:
            gross = use.net(counts) + _lost(use, hours.mixes, counts)
            spans = busy.get(use.stage) or ((0.0, 0.0, 1.0),)
            for substance, grams in _evaporated(plan, use, gross):
                found.setdefault(substance, []).extend(
                    Emission(grams * share, start, end - start) for start, end, share in spans
                )
    return {substance: _worst_day(emissions) for substance, emissions in found.items()}


def _worst_day(emissions: Iterable[Emission]) -> list[Emission]:
    """Take the emissions of the day that has most of them, in hours of that day.

    >>> _worst_day([Emission(1.0, 8.0, 1.0), Emission(2.0, 33.0, 1.0), Emission(2.0, 34.0, 1.0)])
    [Emission(grams=2.0, start_h=9.0, over_h=1.0), Emission(grams=2.0, start_h=10.0, over_h=1.0)]
    """
    days: dict[int, list[Emission]] = {}
    for emission in emissions:
        day, hour = divmod(emission.start_h, 24)
        days.setdefault(int(day), []).append(replace(emission, start_h=hour))
    return max(days.values(), key=lambda day: fsum(emission.grams for emission in day))


def _evaporated(plan: Plan, use: Use, gross: float) -> Iterator[tuple[str, float]]:
    """Give the substances, hazardous or with a limit, and the grams of each that so much of an item gives off."""
    if use.unit not in ("g", "mL"):
        return
    entries, facts = plan.knowledge.entries, use.entry.facts
    grams = gross if use.unit == "g" else gross * assumed_density_g_ml(use.entry, plan.knowledge)
    for share in facts.get("vapours", ()):
        substance = entries[share["substance"]]
        known = substance.facts
        if known.get("hazards") or known.get("hazard_statements") or known.get("limits"):
            yield substance.id, grams * share["share_pct"] / 100
