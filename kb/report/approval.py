"""The approver's form: why this chain, every finding with its source, what was refused, and what isn't known."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from kb.base.vocabulary import KINDS, VERDICTS
from kb.engine.chain import Chain
from kb.engine.plan import Plan
from kb.materials.resolve import Resolved
from kb.planning.alternatives import Alternative
from kb.planning.hangs_on import Hang
from kb.quantities.layout import hours_of
from kb.report.first import equals, why_words
from kb.report.form import Paper, asked, common
from kb.report.hanging import hanging_words
from kb.report.pages import render
from kb.report.pictures.layers import layers_picture
from kb.report.pictures.temperatures import temperature_picture
from kb.report.pictures.timeline import timeline_picture
from kb.report.ready import ready_words
from kb.rules.findings import Finding, distinct
from kb.rules.words import message, shown


def approval_form(
    plan: Plan,
    resolved: Resolved,
    chain: Chain,
    paper: Paper = "a4",
    hangs: Sequence[Hang] | None = None,
    others: Sequence[Alternative] = (),
) -> str:
    """Give the form for `chain` as one self-contained page of HTML; `hangs` is what the answer hangs on, `others` what
    there is beside its first chain.

    That is said of the first chain: where another is taken it is left out.
    """
    findings = distinct(chain.findings)
    cited = dict.fromkeys(source for f in findings for source in f.rule.sources)
    return render(
        "approval.html",
        **common(plan, resolved, chain, "approval", paper),
        asked=list(asked(plan)),
        chains=plan.chains,
        proven=plan.proven,
        why=why_words(plan, others),
        alike=equals(plan, others),
        names={c.rank: " + ".join(o.entry.name for o in c.picks if o.entry is not None) for c in plan.chains},
        ready_of={c.rank: ready_words(hours_of(plan, c)) for c in plan.chains},
        findings=[
            {"verdict": verdict, "rows": [_row(f) for f in findings if f.verdict == verdict]} for verdict in VERDICTS
        ],
        sources=[(source, plan.knowledge.sources.get(source)) for source in cited],
        refused=list(_refused(plan)),
        hanging=list(hanging_words(plan, hangs)) if chain.rank == 1 else [],
        pictures=[temperature_picture(plan, chain), timeline_picture(plan, chain), layers_picture(plan, chain)],
    )


def _row(finding: Finding) -> dict[str, Any]:
    rule = finding.rule
    return {
        "message": message(finding),
        "rule": rule,
        "seen": [(path, shown(value)) for path, value in finding.seen],
        "calculations": [
            (name, f"{result} = {shown(float(value)) if isinstance(value, (int, float)) else value}")
            for name, _, result, value in finding.calculations
        ],
    }


def _refused(plan: Plan) -> Iterator[dict[str, Any]]:
    """Give the items that no chain could use, by kind and by the first rule that closes them."""
    groups: dict[tuple[str, str], tuple[Finding, list[str]]] = {}
    for item, findings in plan.excluded:
        first = findings[0]
        groups.setdefault((item.kind, first.rule.id), (first, []))[1].append(item.name)
    for (kind, _), (finding, names) in sorted(groups.items(), key=lambda g: (KINDS.index(g[0][0]), g[0][1])):
        yield {"kind": kind, "rule": finding.rule, "names": names}
