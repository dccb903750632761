"""The answer to `plan` as the JSON document `tackroom.plan/1`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from kb.engine.chain import Chain
from kb.engine.plan import Plan
from kb.materials.resolve import Resolved, missed_by
from kb.planning.alternatives import Alternative, offered
from kb.planning.gauge import wanted_of_gauge
from kb.planning.procedure import Step, procedure
from kb.quantities.layout import hours_of
from kb.report.first import firmness_json
from kb.report.hanging import hanging_json
from kb.report.others import alternative_json, none_near
from kb.report.ready import ready_json
from kb.report.trouble import ITEM_SLOTS, conflict_json, items_of, relaxation_json, search_json
from kb.rules.clauses import Facts
from kb.rules.findings import Finding, distinct
from kb.rules.words import finding_json

if TYPE_CHECKING:
    # Only where there is no chain: a plan that has one doesn't load the search for conflicts.
    from kb.engine.conflict import Trouble
    from kb.planning.hangs_on import Hang
    from kb.planning.supposed import Supposed


def _families(chain: Chain) -> dict[str, Any]:
    picked = {slot: chain.pick(slot).entry for slot in ITEM_SLOTS}
    families: dict[str, Any] = {slot: entry.family if entry else None for slot, entry in picked.items()}
    return {**families, "coatings": [coat.family for coat in chain.coatings]}


def _cure(cure: Facts) -> dict[str, Any]:
    return {
        "schedule": cure["id"],
        **{name: _number(cure[name]) for name in ("temperature_c", "duration_min", "full_strength_min")},
        "then_min": _number(cure.get("then_min", 0.0)),
        "post_cure_c": cure.get("post_cure_c"),
        "post_cure_min": _number(cure.get("post_cure_min", 0.0)),
        "service_max_c": cure["service_max_c"],
    }


def _step(step: Step) -> dict[str, Any]:
    return {
        "stage": step.stage,
        "item": step.item,
        "do": step.do,
        "wait_s": _number(step.wait_s),
        "wait_for": step.wait_for or None,
        "must": list(step.must),
        "never": list(step.never),
        "because": step.because or None,
        "rule": step.rule,
        "limit": dict(step.limit) if step.limit else None,
    }


def _number(value: float) -> float | int:
    return int(value) if float(value).is_integer() else round(value, 3)


def _finding(plan: Plan, finding: Finding) -> Mapping[str, object]:
    """Give a finding as the document holds it: once for a plan, since its chains share most of theirs."""
    # The finding is kept too, so that no other can have its place.
    key = ("finding", id(finding))
    if key not in plan.worked_out:
        plan.worked_out[key] = finding, finding_json(finding)
    document: Mapping[str, object] = plan.worked_out[key][1]
    return document


def chain_json(plan: Plan, chain: Chain, *, proven: bool) -> dict[str, Any]:
    """Give one chain as the document holds it."""
    return {
        "rank": chain.rank,
        "items": items_of(chain),
        "families": _families(chain),
        "cure": _cure(chain.cure) if chain.cure else None,
        "steps": [_step(step) for step in procedure(plan, chain)],
        "findings": [_finding(plan, finding) for finding in distinct(chain.findings)],
        "score": [
            {"criterion": s.criterion, "value": _number(s.value), "unit": s.unit, "points": s.points}
            for s in chain.score
        ],
        "cost": chain.cost,
        "proven": proven,
        **ready_json(hours_of(plan, chain)),
    }


def _described(plan: Plan, resolved: Resolved) -> dict[str, Any]:
    """Tell what hangs on the facts that a described material lacks, and what it is like."""
    if resolved.how != "described":
        return {}
    from kb.report.described import described_json

    return {"described": described_json(plan, resolved)}


def _planned_as(plan: Plan) -> dict[str, Any] | None:
    """Tell what lies below a layer that comes off; None where the part is planned as it was named."""
    left = plan.screened.scene["substrate"] or {}
    if left.get("name") == plan.substrate.name:
        return None
    return {"id": left["id"], "name": left["name"], "family": left["family"]}


def plan_json(
    plan: Plan,
    resolved: Resolved,
    trouble: Trouble | None,
    others: Sequence[Alternative] = (),
    supposed: Sequence[Supposed] = (),
    hangs: Sequence[Hang] | None = None,
) -> dict[str, Any]:
    """Give the whole answer: `trouble` holds what stands against a job without a chain, `others` alternatives.

    `supposed` are the facts that the question changed, `hangs` those that the answer hangs on; None: not looked for.
    """
    entry = resolved.entry
    return {
        "schema": "tackroom.plan/1",
        "job": plan.job.model_dump(mode="json"),
        "substrate": {
            "id": entry.id,
            "name": entry.name,
            "family": entry.family,
            "match": {
                "query": resolved.query,
                "how": resolved.how,
                "score": resolved.score,
                "not_known": list(resolved.not_known),
                "assumed": list(resolved.assumed),
            },
            "planned_as": _planned_as(plan),
            "missing": missed_by(resolved, plan.screened.rules),
            **_described(plan, resolved),
        },
        "outcome": "planned" if plan.chains else "no-chain",
        "chains": [chain_json(plan, chain, proven=chain.rank <= plan.proven) for chain in plan.chains],
        "alternatives": [
            alternative_json(plan, other, chain_json(other.plan, other.chain, proven=other.plan.bound is None))
            for other in offered(others)
        ],
        "none_near": [{"by": other.by, "says": none_near(plan, other)} for other in others if other.far],
        "gauge": [finding_json(wanted) for wanted in wanted_of_gauge(plan)] if plan.chains else [],
        "firmness": firmness_json(plan, others),
        "hangs_on": hanging_json(hangs),
        "proven": plan.bound is None,
        "bound": plan.bound,
        "excluded": [
            {
                "item": item.id,
                "kind": item.kind,
                "family": item.family,
                "findings": [finding_json(finding) for finding in findings],
            }
            for item, findings in plan.excluded
        ],
        "conflict": conflict_json(trouble) if trouble else None,
        "relaxations": [relaxation_json(r) for r in trouble.relaxations] if trouble else [],
        "search": search_json(trouble) if trouble else None,
        "set": [{"fact": one.fact, "from": one.before, "to": one.value} for one in supposed],
        "notes": list(plan.notes),
        "knowledge": plan.knowledge.digest[:16],
    }
