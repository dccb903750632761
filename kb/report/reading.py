"""What has to be read before the work, in the order in which it matters."""

from __future__ import annotations

from kb.engine.chain import Chain
from kb.engine.plan import Plan
from kb.rules.findings import Finding, distinct


def must_read(plan: Plan, chain: Chain) -> list[Finding]:
    """List a chain's cautions: what can hurt people for life first, then by what each costs the chain.

    What the part or the place brings with it costs every chain the same, often little: it decides nothing, and is
    what nobody may pass over.
    """
    ranking = plan.screened.ranking
    cautions = [finding for finding in distinct(chain.findings) if finding.verdict == "caution"]
    return sorted(cautions, key=lambda f: (not f.rule.urgent, -ranking.of_rule(f.rule, f.known).points))


def must_know(plan: Plan, chain: Chain) -> list[Finding]:
    """List a chain's cautions as `must_read` does, and after them what it needs."""
    return [*must_read(plan, chain), *(f for f in distinct(chain.findings) if f.verdict == "need")]
