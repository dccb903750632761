"""What to ask of the gauge itself for a job: expansion, grid, foil, resistance and leads, never a maker's code."""

from __future__ import annotations

from kb.engine.plan import Plan
from kb.rules.findings import Finding, judge


def wanted_of_gauge(plan: Plan) -> list[Finding]:
    """List what the job and its part want of the gauge, by topic; what isn't known asks for nothing.

    A rule that reads the backing of the first chain speaks in place of the general ones of its topic: a gauge that is
    sealed in a tube comes with its grid and its cable.
    """
    scene = dict(plan.screened.scene)
    if plan.chains and (backing := plan.chains[0].pick("backing").entry):
        scene["backing"] = backing.facts
    said = [one for rule in plan.knowledge.beside if rule.of_gauge and (one := judge(rule, scene))]
    special = {one.rule.title for one in said if "backing" in one.rule.roles()}
    wanted = [one for one in said if "backing" in one.rule.roles() or one.rule.title not in special]
    return sorted(wanted, key=lambda one: (one.rule.title, one.rule.id))
