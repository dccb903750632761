"""What is not known of a described material, what hangs on it, how to find it out, and what is like it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from kb.engine.plan import Plan
from kb.materials.relatives import Relative, relatives
from kb.materials.resolve import Resolved
from kb.planning.gaps import Gap, gaps
from kb.report.text import wrapped
from kb.rules.words import shown

#: So many rules of a fact are named before the rest is counted, and so many differences of a relative.
NAMED = 4


def described_json(plan: Plan, resolved: Resolved) -> dict[str, Any]:
    """Tell what is missing and decides something, what is assumed, and the nearest known relatives."""
    return {
        "missing": [
            {
                "fact": gap.fact,
                "decides": [{"rule": r.id, "verdict": r.verdict, "title": r.title} for r in gap.rules],
                "find_out": [{"ask": q.ask, "test": q.test, "sheet": q.sheet} for q in gap.questions],
            }
            for gap in gaps(plan, resolved)
        ],
        "assumed": list(resolved.assumed),
        "relatives": [
            {
                "id": relative.entry.id,
                "name": relative.entry.name,
                "likeness": round(relative.likeness, 3),
                "differs": [
                    {"fact": fact, "described": plain(own), "relative": plain(theirs)}
                    for fact, own, theirs in relative.differs
                ],
            }
            for relative in relatives(resolved.entry, plan.knowledge)
        ],
    }


def described_text(plan: Plan, resolved: Resolved) -> str:
    """Give the same for a terminal; empty where nothing is open and nothing is assumed."""
    return "".join(f"{line}\n" for line in _lines(plan, resolved))


def _lines(plan: Plan, resolved: Resolved) -> Iterator[str]:
    found = gaps(plan, resolved)
    if found:
        yield "NOT KNOWN OF THE PART, and what hangs on it"
        for gap in found:
            yield from _gap(gap)
        yield ""
    if resolved.assumed:
        yield "ASSUMED, AND NOT DESCRIBED"
        yield wrapped(f"{', '.join(resolved.assumed)}: as of {resolved.model}. Confirm what matters.", "  ")
        yield ""
    known = relatives(resolved.entry, plan.knowledge)
    if known:
        yield "NEAREST KNOWN MATERIALS"
        for relative in known:
            yield wrapped(_relative(relative), f"  {relative.likeness:4.0%}  ")
        yield ""


def _gap(gap: Gap) -> Iterator[str]:
    titles = [rule.title for rule in gap.rules]
    rest = f"; and {len(titles) - NAMED} more" if len(titles) > NAMED else ""
    yield wrapped(f"{gap.fact}: decides on {'; '.join(titles[:NAMED])}{rest}", "  - ")
    for question in gap.questions[:1]:
        yield wrapped(f"{question.ask} {question.test}", "    bench:      ")
        yield wrapped(question.sheet, "    data sheet: ")


def _relative(relative: Relative) -> str:
    differs = [f"{fact} {shown(own)} against {shown(theirs)}" for fact, own, theirs in relative.differs]
    rest = f" and {len(differs) - NAMED} more" if len(differs) > NAMED else ""
    told = (
        f"differs in {', '.join(differs[:NAMED])}{rest}"
        if differs
        else f"as described, in all {relative.compared} facts that are known"
    )
    return f"{relative.entry.name} ({relative.entry.id}): {told}"


def plain(value: Any) -> Any:
    """Give a value with lists where the knowledge has tuples."""
    return [plain(inner) for inner in value] if isinstance(value, (list, tuple)) else value
