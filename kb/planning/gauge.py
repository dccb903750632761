"""What to ask of the gauge itself for a job: expansion, grid, foil, resistance and leads, never a maker's code."""

from __future__ import annotations

from kb.engine.plan import Plan
from kb.rules.findings import Finding, judge


def wanted_of_gauge(plan: Plan) -> list[Finding]:
    """List what the job and its part want of the gauge, by topic; what isn't known asks for nothing."""
    scene = plan.screened.scene
    said = (judge(rule, scene) for rule in plan.knowledge.beside if rule.of_gauge)
    return sorted((one for one in said if one is not None), key=lambda one: (one.rule.title, one.rule.id))
