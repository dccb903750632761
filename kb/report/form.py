"""What the bench sheet and the approver's form share: the job in words, the chain as rows, and the versions.

>>> named("max_process_temperature_c"), named("cycles"), named("resistance_deviation_pct", "%")
('max process temperature, degC', 'cycles', 'resistance deviation, %')
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from kb import __version__
from kb.base.units import degrees, ending_of, unit_words
from kb.engine.chain import Chain
from kb.engine.plan import Plan
from kb.materials.resolve import Resolved
from kb.quantities.layout import hours_of
from kb.report.ready import ready_words
from kb.report.text import STANDING, days
from kb.report.trouble import items_of
from kb.rules.roles import OMITS_OF_SLOT, SLOTS
from kb.rules.words import duration, message, shown

Paper = Literal["a4", "letter"]
#: What each paper is called in a style sheet.
PAPERS: Mapping[Paper, str] = {"a4": "A4", "letter": "letter"}


@dataclass(frozen=True, slots=True)
class Row:
    """One slot of the chain. Where `name` is empty, `note` says why nothing stands there."""

    slot: str
    name: str
    family: str
    note: str = ""
    item: str = ""


@dataclass(frozen=True, slots=True)
class JobField:
    """One field of the job: `given` in the file, or else a default."""

    table: str
    field: str
    value: str
    given: bool


def named(field: str, unit: str = "") -> str:
    """Give a field's name in words, with its unit: `unit`, else the one that the name ends in."""
    own = ending_of(field)
    words = field.removesuffix(own or f"_{unit}")
    of = unit or unit_words(field)
    return words.replace("_", " ") + (f", {of}" if of else "")


def chain_rows(chain: Chain) -> Iterator[Row]:
    """Give a row for each slot that is filled, and for each that a rule leaves empty."""
    omitted = {f.rule.omits: f for f in chain.findings if f.rule.omits}
    for slot in SLOTS:
        entry = chain.pick(slot).entry
        finding = omitted.get(OMITS_OF_SLOT.get(slot, ""))
        if entry is not None:
            note = cure_words(chain.cure) if slot == "adhesive" and chain.cure else ""
            yield Row(SLOTS[slot].label, entry.name, entry.family, note, entry.id)
        elif finding is not None:
            yield Row(SLOTS[slot].label, "", "", f"not done: {message(finding)} [{finding.rule.id}]")


def cure_words(cure: Mapping[str, Any]) -> str:
    """Give an adhesive's cure in one sentence."""
    said = f"cure {duration(cure['duration_min'])} at {degrees(cure['temperature_c'])} degC"
    if cure.get("post_cure_min"):
        said += f", then {duration(cure['post_cure_min'])} at {degrees(cure['post_cure_c'])} degC"
    return f"{said}; full strength after {duration(cure['full_strength_min'])}"


def asked(plan: Plan) -> Iterator[JobField]:
    """Give every field of the job that has a value, in the order of the job file."""
    for table in type(plan.job).model_fields:
        model = getattr(plan.job, table)
        given = model.model_fields_set if table in plan.job.model_fields_set else frozenset()
        for field, value in model.model_dump(mode="json").items():
            if value is not None:
                yield JobField(table, named(field), _value(value, field), field in given)


def _value(value: Any, field: str) -> str:
    if isinstance(value, Mapping):
        return ", ".join(f"{named(k)} {_value(v, k)}" for k, v in value.items() if v is not None)
    if field.endswith("_mm") and isinstance(value, list):
        # Two lengths are a size, not a range.
        return " by ".join(shown(float(side)) for side in value)
    return shown(value) or "none"


def service_words(plan: Plan) -> str:
    """Tell what the bond has to stand, in one sentence."""
    service = plan.job.service
    low, high = service.temperature_c
    peak = service.peak
    said = [f"{degrees(low)} to {degrees(high)} degC"]
    if peak is not None:
        said.append(f"peak {degrees(peak.temperature_c)} degC for {shown(peak.duration_h)} h")
    said += [
        ", ".join(service.exposures),
        days(service.duration_days),
        f"measurement: {service.measurement}",
    ]
    said.append(f"up to {shown(service.max_strain_ue)} microstrain")
    if service.cycles is not None:
        said.append(f"{shown(service.cycles)} cycles")
    return "; ".join(said)


def versions(plan: Plan) -> list[tuple[str, str]]:
    """Tell what the paper rests on, so that it can be traced and printed again."""
    house = sum(1 for rule in plan.knowledge.rules if rule.house)
    rules = f"{len(plan.knowledge.rules)} rules, {house} of them the lab's own"
    return [
        ("program", f"tackroom {__version__}"),
        ("knowledge and rules", f"{len(plan.knowledge.entries)} items, {rules}"),
        ("content hash", plan.knowledge.digest),
    ]


def number(plan: Plan, chain: Chain, form: str) -> str:
    """Tell what is printed on each page of one paper: it changes when the job, the chain or the knowledge does."""
    what = [form, plan.job.model_dump(mode="json"), items_of(chain), chain.cure.get("id"), plan.knowledge.digest]
    digest = hashlib.sha256(json.dumps(what, sort_keys=True).encode()).hexdigest()
    return f"{digest[:4]}-{digest[4:8]}"


def common(plan: Plan, resolved: Resolved, chain: Chain, form: str, paper: Paper) -> dict[str, Any]:
    """Give the values that both templates take."""
    return {
        "job": plan.job,
        "part": resolved.entry.name,
        "query": resolved.query,
        "match": resolved,
        "service": service_words(plan),
        "chain": chain,
        "rows": list(chain_rows(chain)),
        "ready": ready_words(hours_of(plan, chain)),
        "number": number(plan, chain, form),
        "paper": PAPERS[paper],
        "notes": plan.notes,
        "standing": STANDING,
        "versions": versions(plan),
        "digest": plan.knowledge.digest[:16],
    }
