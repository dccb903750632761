"""Why no chain keeps what was chosen: what a rule refuses of it here, and the two of it that no rule lets meet."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise, product

from kb.engine.plan import Engine, Plan
from kb.job import Choose
from kb.rules.findings import Finding
from kb.rules.words import message

#: A family and a family: more pairs than this are no choice that somebody made by name.
_MOST_PAIRS = 40


def why_not_kept(choose: Choose, plan: Plan, engine: Engine) -> Iterator[str]:
    """Say what refuses a choice that no chain keeps: a rule about one place of it, or about two neighbours."""
    refused = {entry.id: why for entry, findings in plan.excluded if (why := _block(findings)) is not None}
    for ids in (choose.adhesive, choose.backing, choose.treatment):
        if ids and all(item in refused for item in ids):
            yield f"What was chosen isn't for this job: {refused[ids[0]]}."
    laid = [place for place in (choose.adhesive, *(choose.coatings or ())) if place]
    for below, above in pairwise(laid):
        if (why := _why_never(below, above, engine)) is not None:
            yield f"What was chosen doesn't go together: {why}."


def _block(findings: Iterable[Finding]) -> str | None:
    """Give what the first rule says that refuses an item for what it is, not for what was chosen or is left."""
    for finding in findings:
        own = not any(fact.startswith(("choose.", "chain.")) for fact in finding.rule.facts())
        if own and finding.known and finding.rule.verdict == "block":
            return message(finding)
    return None


def _why_never(below: Sequence[str], above: Sequence[str], engine: Engine) -> str | None:
    """Give what the rules say of the first two; None where one above goes on one below."""
    from kb.engine.check import answer, question

    if len(below) * len(above) > _MOST_PAIRS:
        return None
    said: str | None = None
    for lower, upper in product(below, above):
        found = answer(engine, question((upper, "over", lower), engine.knowledge, "choose")).checked
        if found.verdict != "blocked":
            return None
        said = said or _block(found.findings)
    return said
