"""The answers to `record` and `trace`: what was made from what, what failed, what to call back, and the yield."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from kb.report.text import counted
from kb.stock.amounts import text
from kb.stock.stores import Document
from kb.stock.view import event_text
from kb.work.installations import Installation
from kb.work.signing import Standing
from kb.work.trace import OnShelf, Trace
from kb.work.yields import Yield, prior


def yield_json(found: Yield) -> dict[str, Any]:
    """Give a learned yield with its interval and its prior."""
    return {
        "passed": found.passed,
        "failed": found.failed,
        "mean": round(found.mean, 6),
        "interval": [round(found.low, 6), round(found.high, 6)],
        "credible": found.credible,
        "prior": {"good": found.good - found.passed, "bad": found.bad - found.failed, "basis": prior()["basis"]},
    }


def yield_text(found: Yield) -> str:
    """Give the same as a sentence."""
    good, bad = found.good - found.passed, found.bad - found.failed
    return (
        f"Yield of this chain: {found.passed} passed and {found.failed} failed so far. Reckon with {found.mean:.1%} "
        f"({found.credible:.0%} between {found.low:.1%} and {found.high:.1%}; before anything was recorded it was "
        f"believed as if {good} of {good + bad} had come out good)."
    )


def _made_json(one: Installation) -> dict[str, Any]:
    return {
        "job": one.job,
        "installation": one.name,
        "part": one.part or None,
        "outcome": one.outcome,
        "why": one.why or None,
        "at": one.at,
        "who": one.who,
        "lots": one.lots,
        "readings": one.readings,
        "unmeasured": list(one.unmeasured),
        "bench": one.bench,
        "photos": one.photos,
        "notes": one.notes,
        "departures": list(one.departures),
    }


def record_json(kept: Document, found: Yield, dry_run: bool = False) -> dict[str, Any]:
    """Give `tackroom.record/1`."""
    return {"schema": "tackroom.record/1", "dry_run": dry_run, "record": kept, "yield": yield_json(found)}


def record_text(kept: Document, found: Yield) -> str:
    """Tell what was recorded, and what the chain's yield is now."""
    failed = [one for one in kept["installations"] if one["outcome"] == "fail"]
    many = len(kept["installations"])
    name = f"Record {kept['id']}" if "id" in kept else "Not recorded (dry run)"
    lines = [f"{name} of '{kept['job']}': {many - len(failed)} passed, {len(failed)} failed."]
    lines += [f"  {one['installation']} failed{': ' + one['why'] if one.get('why') else ''}" for one in failed]
    unmeasured = {name for one in kept["installations"] for name in one.get("unmeasured", ())}
    lines += [f"  Not measured on all of them: {', '.join(sorted(unmeasured))}."] if unmeasured else []
    lines += [f"  {draw['quantity']} {draw['unit']} of {draw['lot']} drawn down." for draw in kept.get("draws", ())]
    if odd := kept.get("departures"):
        lines.append(f"  Not as the chain says: with {', '.join(odd)}. Its yield learns nothing from that.")
    return "".join(f"{line}\n" for line in [*lines, yield_text(found)])


def trace_json(found: Trace) -> dict[str, Any]:
    """Give `tackroom.trace/1`."""
    return {
        "schema": "tackroom.trace/1",
        "of": found.of,
        "kind": found.kind,
        "passed": found.passed,
        "failed": found.failed,
        "lots": [
            {
                "lot": one.lot,
                "item": one.item,
                "installations": one.installations,
                "failed": one.failed,
                "share": round(one.share, 6),
            }
            for one in found.lots
        ],
        "installations": [_made_json(one) for one in found.installations],
        "recall": [
            {"job": job, "part": part or None, "installations": [one.name for one in ones]}
            for job, part, ones in found.recall
        ],
        "other_uses": [dict(event) for event in found.other_uses],
        "undone_uses": [dict(event) for event in found.undone_uses],
        "on_shelf": [
            {
                "lot": one.lot,
                "item": one.item,
                "quantity": float(one.quantity),
                "unit": one.unit,
                "location": one.location or None,
                "batch": one.batch or None,
                "installations": one.installations,
            }
            for one in found.on_shelf
        ],
        "records": [
            {
                "record": one.number,
                "job": one.record["job"],
                "who": one.record["who"],
                "verdict": one.verdict,
                "signatures": [
                    {"who": s["who"], "at": s["at"], "verdict": s["verdict"], "reason": s.get("reason")}
                    for s in one.signatures
                ],
            }
            for one in found.records
        ],
    }


def trace_text(found: Trace, names: Mapping[str, str]) -> str:
    """Lots and installations; for a lot, what to call back if it turns out bad. `names` are those of items."""
    lines = [f"{found.kind} {found.of}: {counted(found.passed, 'installation')} passed, {found.failed} failed"]
    of_lots = found.kind in ("lot", "batch")
    own = {one.lot for one in found.on_shelf if found.kind == "batch" or one.lot == found.of}
    lines += [f"Of it on the shelf: {_left(one)}" for one in found.on_shelf if one.lot in own]
    lines += [
        f"Of the same lot of the maker's: {_left(one)}; it is in {counted(one.installations, 'installation')}"
        for one in found.on_shelf
        if one.lot not in own
    ]
    beside = [one for one in found.lots if one.lot not in own]
    if beside:
        lines.append(f"Lots{' beside it' if of_lots else ''}, the most failures first:")
    lines += [
        f"  {one.lot} ({names.get(one.item, one.item)}): {one.failed} of {one.installations} failed" for one in beside
    ]
    odd = [one for one in found.installations if one.departures]
    lines += ["Not as the chain says:"] if odd else []
    lines += [f"  {one.job}, installation {one.name}{_on(one)}: with {', '.join(one.departures)}" for one in odd]
    bad = [one for one in found.installations if one.failed]
    lines += ["Failed:"] if bad else []
    lines += [f"  {one.job}, installation {one.name}{_on(one)}: {one.why or 'no reason given'}" for one in bad]
    if of_lots:
        lines += (
            ["To call back if the lot is bad (passed, so in service):"] if found.recall else ["Nothing to call back."]
        )
        lines += [
            f"  {job}{f', {part}' if part else ''}: installation{'s' if len(ones) > 1 else ''} "
            f"{', '.join(one.name for one in ones)}"
            for job, part, ones in found.recall
        ]
    lines += [
        f"Record {one.number} of '{one.record['job']}' by {one.record['who']}: {signed_words(one)}"
        for one in found.records
        if one.signatures
    ]
    lines += [f"Also used: {event_text(event)}" for event in found.other_uses]
    lines += [
        f"Undone: {event_text(event)}. The record names the lot still; `record --again --lots` adds the right one."
        for event in found.undone_uses
    ]
    return "".join(f"{line}\n" for line in lines)


def signed_words(one: Standing) -> str:
    """Say what a record's signatures come to: by whom, and why not where it was refused."""
    if not one.signatures:
        return "not signed yet"
    last = one.signatures[-1]
    why = f": {last['reason']}" if last.get("reason") else ""
    return f"{last['verdict']} by {last['who']} on {last['at'][:10]}{why}"


def _left(one: OnShelf) -> str:
    where = f", {one.location}" if one.location else ""
    return f"{text(one.quantity)} {one.unit} of {one.lot}{where}" if one.quantity else f"nothing is left of {one.lot}"


def _on(one: Installation) -> str:
    return f" on {one.part}" if one.part else ""
