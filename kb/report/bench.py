"""The answer to `bench`: as the document `tackroom.bench/1`, and for a terminal."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from kb.base.units import degrees
from kb.quantities.bench import Fitness, assumed_in
from kb.report.estimate import remark_lines
from kb.report.first import bond_of
from kb.report.text import wrapped
from kb.report.trouble import items_of
from kb.rules.findings import Finding
from kb.rules.words import finding_json, message

_SAID = {
    "go": "nothing in the room speaks against it",
    "wait": "do first what is said below",
    "stop": "do not bond in this state",
}
#: What is said of a room that is fit, with something to mind.
_MINDED = "it may be done; read first what is said below"
#: What is said instead where the room is fit only if it is as nobody has measured it.
_SUPPOSED = "GO, if the room is as it is assumed here: measure it first"


def headline(found: Fitness) -> str:
    """Give the verdict with what it comes to."""
    minded = found.verdict == "go" and (found.findings or found.changes)
    return f"{found.verdict.upper()}: {_MINDED if minded else _SAID[found.verdict]}"


def bench_json(found: Fitness) -> dict[str, Any]:
    """Give `tackroom.bench/1`. A dew point of null: the air is too dry to have one."""
    air = found.air
    return {
        "schema": "tackroom.bench/1",
        "dew_point_c": air.dew_point_c,
        "margin_c": air.margin_c,
        "phase": air.phase,
        "humidity_ratio_g_kg": air.humidity_ratio_g_kg,
        "humidity_at_part_pct": air.humidity_at_part_pct,
        "verdict": found.verdict,
        "change": list(found.changes),
        "chain": {"rank": found.chain.rank, "items": items_of(found.chain)},
        "findings": [*(finding_json(f) for f in found.findings), *(remark.json() for remark in found.remarks)],
    }


def bench_text(found: Fitness) -> str:
    """Give the verdict, the room, what to change, and the reasons."""
    room, air = found.room, found.air
    chain = [found.chain.pick("treatment").entry, bond_of(found.chain), *found.chain.coatings]
    supposed = found.verdict == "go" and assumed_in(room)
    lines = [
        _SUPPOSED if supposed else headline(found),
        "",
        f"  Air: {degrees(room.air_temperature_c)} degC, {room.relative_humidity_pct:g} % relative humidity, "
        f"{air.humidity_ratio_g_kg:.3g} g of water per kg of dry air",
        f"  Part: {degrees(room.part_temperature_c)} degC{_at_part(air.humidity_at_part_pct)}",
        f"  {'Frost point' if air.phase == 'frost' else 'Dew point'}{_dew(found)}",
        wrapped(" + ".join(entry.name for entry in chain if entry), "  Chain: ", 4),
        f"    (chain {found.chain.rank} of the plan for this job in an ordinary room)",
        "",
    ]
    if found.changes:
        lines += ["CHANGE", *(f"  {change}" for change in found.changes), ""]
    if found.findings or found.remarks:
        lines += ["BECAUSE", *(line for f in found.findings for line in _finding(f)), *remark_lines(found.remarks), ""]
    lines.append("Measure at the part, not at the door. Data sheets rule; this is for the class of item.")
    return "\n".join(lines) + "\n"


def _at_part(humidity: float | None) -> str:
    return "" if humidity is None else f", where the same air would be at {humidity:.0f} %"


def _dew(found: Fitness) -> str:
    if found.air.dew_point_c is None or found.air.margin_c is None:
        return ": none, the air is too dry to have one"
    return f": {found.air.dew_point_c:.1f} degC; the part stands {found.air.margin_c:.1f} K above it"


def _finding(finding: Finding) -> Iterator[str]:
    said = f"{message(finding)} [{finding.rule.id}; {finding.rule.basis}]"
    yield wrapped(said, f"  {finding.verdict}: ", 4)
    yield wrapped(f"because: {finding.rule.because}", "    ", 6)
    instead = finding.rule.instead or finding.rule.step_do
    if instead:
        yield wrapped(f"instead: {instead}", "    ", 6)
