"""The answer to `estimate`: as the document `tackroom.estimate/1`, and for a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from kb.quantities import Remark
from kb.quantities.air import Vapour
from kb.quantities.estimate import Estimate, Line
from kb.report.costs import costs_text
from kb.report.ready import ready_json, ready_words
from kb.report.text import STANDING, filled, wrapped
from kb.report.trouble import items_of
from kb.rules.words import duration
from kb.work.costing import Costs


def estimate_json(found: Estimate) -> dict[str, Any]:
    """Give `tackroom.estimate/1`, with the rows of the timeline of its attempts."""
    count, hours = found.installations, found.hours
    return {
        "schema": "tackroom.estimate/1",
        "chain": {"rank": found.chain.rank, "items": items_of(found.chain)},
        "installations": {
            "good_needed": count.good_needed,
            "attempts": count.attempts,
            "expected_yield": count.expected_yield,
            "confidence": count.confidence,
            "range": list(count.range),
        },
        "lines": [_line(line) for line in found.lines],
        "mixes": [
            {
                "item": mix.entry.id,
                "number": mix.number,
                "mass_g": mix.mass_g,
                "installations_each": mix.installations_each,
                "limited_by": mix.limited_by,
                "pot_life_min": mix.pot_life_min,
                "thrown_away_g": round(mix.thrown_away_g, 6),
            }
            for mix in found.mixes
        ],
        "timeline": [row._asdict() for row in hours.rows()],
        **ready_json(hours.hours),
        "air": [_vapour(vapour) for vapour in found.air.vapours],
        "air_together": {
            "additive_effect": found.air.additive_sum,
            "share_of_lel": found.air.explosive_sum,
            "air_changes_needed": [
                {"share_of_limit": share, "per_h": changes} for share, changes in sorted(found.air.changes_for.items())
            ],
        },
        "waste": [
            {"kinds": list(s.kinds), "items": list(s.items), "amounts": dict(s.amounts), "keep": list(s.keep)}
            for s in found.waste
        ],
        "findings": [remark.json() for remark in found.remarks],
    }


def _line(line: Line) -> dict[str, Any]:
    return {
        "item": line.entry.id,
        "name": line.entry.name,
        "kind": line.entry.kind,
        "unit": line.unit,
        "per_attempt": line.per_attempt,
        "net": line.net,
        "waste": line.waste,
        "gross": line.gross,
        "range": list(line.range),
        "bring": line.bring,
        "pack_size": line.pack_size,
        "packs": line.packs,
        "basis": line.basis,
        "uses": [{"stage": use.stage, "why": use.why, "waste": [loss.why for loss in use.losses]} for use in line.uses],
    }


def _vapour(vapour: Vapour) -> dict[str, Any]:
    worst = vapour.worst
    return {
        "substance": vapour.entry.id,
        "name": vapour.entry.name,
        "evaporated_g": vapour.evaporated_g,
        "peak_mg_m3": vapour.peak_mg_m3,
        "average_8h_mg_m3": vapour.average_8h_mg_m3,
        "limit_mg_m3": worst.limit_mg_m3 if worst else None,
        "share_of_limit": worst.share if worst else None,
        "share_of_lel": vapour.share_of_lel,
        "source": worst.source if worst else None,
        "list": worst.list if worst else None,
        "jurisdiction": worst.jurisdiction if worst else None,
        "as_of": worst.as_of if worst else None,
        "limits": [
            {"list": x.list, "jurisdiction": x.jurisdiction, "kind": x.kind, "limit_mg_m3": x.limit_mg_m3,
             "share": x.share, "skin": x.skin, "source": x.source, "as_of": x.as_of}
            for x in vapour.limits
        ],
    }  # fmt: skip


def estimate_text(found: Estimate, costs: Costs | None = None) -> str:
    """Give the whole answer as lines of text."""
    job, count = found.plan.job, found.installations
    low, high = count.range
    lines = [
        wrapped(job.job.name, ""),
        wrapped(ready_words(found.hours.hours), f"Chain {found.chain.rank}; "),
        "",
        f"ATTEMPT {count.attempts} installations for {count.good_needed} good ones",
        f"  a share of {count.expected_yield:.4g} comes out well; so many are enough with a probability of",
        f"  {count.confidence:g} or more; nine times in ten {high} will do, one time in ten {low}",
        "",
        "BRING",
        *_table(found.lines),
        "",
        *([] if costs is None else [costs_text(costs)]),
        *_mixes(found),
        *_air(found),
        *_waste(found),
        *_read_this(found.remarks),
        filled(STANDING),
    ]
    return "\n".join(lines) + "\n"


def _table(lines: Iterable[Line]) -> Iterator[str]:
    yield f"  {'':<44} {'used':>8} {'lost':>8} {'10 to 90 %':>15} {'bring':>8}  packs"
    for line in lines:
        low, high = (figure(x) for x in line.range)
        packs = f"{line.packs} of {figure(line.pack_size)} {line.unit}" if line.pack_size is not None else "not known"
        name = textwrap.shorten(line.entry.name, 44, placeholder="...")
        figures = f"{figure(line.net):>8} {figure(line.waste):>8} {f'{low} to {high}':>15} {figure(line.bring):>8}"
        yield f"  {name:<44} {figures}  {packs}"
    yield f"  Amounts in the unit of the packs; basis: {', '.join(dict.fromkeys(line.basis for line in lines))}"


def figure(value: float) -> str:
    """Give a figure to three digits, whole where it is big.

    >>> figure(0.0612), figure(77.39), figure(1205.4), figure(45.0), figure(999.7)
    ('0.0612', '77.4', '1205', '45', '1000')
    """
    return f"{value:.3g}" if abs(value) < 999.5 else f"{value:.0f}"


def _mixes(found: Estimate) -> Iterator[str]:
    if not found.mixes:
        return
    yield "MIX"
    for mix in found.mixes:
        known = mix.pot_life_min
        pot = "pot life not known" if known is None else f"pot life {duration(known)} at this bench"
        said = (
            f"{mix.entry.name}: {mix.number} of {mix.mass_g:g} g for {mix.installations_each} installations at most "
            f"(limited by: {mix.limited_by}; {pot}); {figure(mix.thrown_away_g)} g are thrown away"
        )
        yield wrapped(said, "  ")
    yield ""


def _air(found: Estimate) -> Iterator[str]:
    room = found.plan.job.bench
    yield f"AIR in {room.room_volume_m3:g} m3 with {room.air_changes_per_h:g} air changes per hour"
    if not found.air.vapours:
        yield "  Nothing evaporates that a list would limit."
    for vapour in found.air.vapours:
        said = (
            f"{vapour.entry.name}: {figure(vapour.evaporated_g)} g; peak {figure(vapour.peak_mg_m3)}, "
            f"8 h mean {figure(vapour.average_8h_mg_m3)} mg/m3; "
        )
        worst = vapour.worst
        said += (
            f"{worst.share:.1%} of {figure(worst.limit_mg_m3)} mg/m3 ({worst.list}, {worst.kind}, as of {worst.as_of})"
            if worst
            else "no limit listed: unknown"
        )
        yield wrapped(said, "  ")
    if found.air.vapours:
        yield (
            f"  Together {found.air.additive_sum:.1%} of the 8-hour limits, {found.air.explosive_sum:.2%} of the lower "
            "explosive limit."
        )
        yield wrapped("A well-mixed room; at the work it is more. Local limits come first.", "  ")
    yield ""


def _waste(found: Estimate) -> Iterator[str]:
    yield "WASTE, kept apart; local rules come first"
    for stream in found.waste:
        amounts = ", ".join(f"{figure(amount)} {unit}" for unit, amount in stream.amounts.items())
        yield wrapped(f"{' + '.join(stream.kinds)} ({amounts}): {', '.join(stream.items)}", "  ", 4)
        for line in stream.keep:
            yield wrapped(line, "    keep: ", 10)
    yield ""


def _read_this(remarks: Sequence[Remark]) -> Iterator[str]:
    if not remarks:
        return
    yield "READ THIS"
    yield from remark_lines(remarks)
    yield ""


def remark_lines(remarks: Sequence[Remark]) -> Iterator[str]:
    """Remarks for a terminal, those to act on first."""
    for remark in sorted(remarks, key=lambda r: r.verdict != "need"):
        yield wrapped(f"{remark.message} [{remark.rule}]", f"  {remark.verdict}: ", 4)
        yield wrapped(f"because: {remark.because}", "    ", 6)
        if remark.instead:
            yield wrapped(f"instead: {remark.instead}", "    ", 6)
