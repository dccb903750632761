"""What is not known of a described material, what hangs on it, how to find it out, and what is like it."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from kb.describe import Answer, Gap, Interview, Question, gaps
from kb.engine.conflict import Trouble
from kb.engine.plan import Plan
from kb.job import Job
from kb.relatives import Relative, relatives
from kb.report.plan_json import plan_json
from kb.report.plan_text import plan_text
from kb.resolve import Resolved
from kb.words import shown

WIDTH = 96
#: So many rules of a fact are named before the rest is counted, and so many differences of a relative.
NAMED = 4


def described_json(plan: Plan, resolved: Resolved) -> dict[str, Any]:
    """What is missing and decides something, what is assumed, and the nearest known relatives."""
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
                    {"fact": fact, "described": _plain(own), "relative": _plain(theirs)}
                    for fact, own, theirs in relative.differs
                ],
            }
            for relative in relatives(resolved.entry, plan.knowledge)
        ],
    }


def described_text(plan: Plan, resolved: Resolved) -> str:
    """The same for a terminal; empty where nothing is open and nothing is assumed."""
    return "".join(f"{line}\n" for line in _lines(plan, resolved))


def _lines(plan: Plan, resolved: Resolved) -> Iterator[str]:
    found = gaps(plan, resolved)
    if found:
        yield "NOT KNOWN OF THE PART, and what hangs on it"
        for gap in found:
            yield from _gap(gap)
        yield ""
    if resolved.assumed:
        like = f"'{resolved.query}'"
        yield _wrapped(f"{', '.join(resolved.assumed)}: as of {like}. Confirm what matters.", "ASSUMED  ")
        yield ""
    known = relatives(resolved.entry, plan.knowledge)
    if known:
        yield "NEAREST KNOWN MATERIALS"
        for relative in known:
            yield _wrapped(_relative(relative), f"  {relative.likeness:4.0%}  ")
        yield ""


def _gap(gap: Gap) -> Iterator[str]:
    titles = [rule.title for rule in gap.rules]
    rest = f"; and {len(titles) - NAMED} more" if len(titles) > NAMED else ""
    yield _wrapped(f"{gap.fact}: decides on {'; '.join(titles[:NAMED])}{rest}", "  - ")
    for question in gap.questions[:1]:
        yield _wrapped(f"{question.ask} {question.test}", "    bench:      ")
        yield _wrapped(question.sheet, "    data sheet: ")


def _relative(relative: Relative) -> str:
    differs = [f"{fact} {shown(own)} against {shown(theirs)}" for fact, own, theirs in relative.differs]
    rest = f" and {len(differs) - NAMED} more" if len(differs) > NAMED else ""
    told = (
        f"differs in {', '.join(differs[:NAMED])}{rest}"
        if differs
        else f"as described, in all {relative.compared} facts that are known"
    )
    return f"{relative.entry.name} ({relative.entry.id}): {told}"


def question_text(question: Question, answers: Sequence[Answer]) -> str:
    """A question as it is put, with its numbered answers; an empty line answers that it isn't known."""
    lines = ["", _wrapped(question.ask, ""), _wrapped(question.test, "  bench:      ")]
    lines.append(_wrapped(question.sheet, "  data sheet: "))
    if question.choice is None:
        offered = [a for a in answers if a in question.answers]
        lines += [_wrapped(answer.say, f"  {number:>2}  ") for number, answer in enumerate(offered, start=1)]
    else:
        lines.append(_wrapped(", ".join(answer.key for answer in answers), "  one of: "))
    figure = ", a figure" if question.number else ""
    asked = f"number{figure}" if question.answers else "figure" if question.number else "name"
    return "".join(f"{line}\n" for line in lines) + f"{asked}, or Enter if it isn't known: "


def describe_json(interview: Interview, plan: Plan, resolved: Resolved, clash: Trouble | None) -> dict[str, Any]:
    """`tackroom.describe/1`."""
    return {
        "schema": "tackroom.describe/1",
        "part": {"substrate": {name: _plain(value) for name, value in interview.given.items()}},
        "answers": interview.answers,
        "open": [question.id for question in interview.open()],
        "described": described_json(plan, resolved),
        "plan": plan_json(plan, resolved, clash),
    }


def describe_text(interview: Interview, plan: Plan, resolved: Resolved, clash: Trouble | None) -> str:
    """The `[part]` table first, then the plan, then what is still open."""
    left = [question.ask for question in interview.open()]
    would = "".join(f"{_wrapped(ask, '  - ')}\n" for ask in left)
    return (
        f"{part_table(interview.given, interview.job)}\n{plan_text(plan, resolved, clash)}\n"
        f"{described_text(plan, resolved)}" + (f"STILL OPEN: an answer would change the chain\n{would}" if left else "")
    )


def part_table(given: Mapping[str, Any], job: Job) -> str:
    """The `[part]` table of a job file, with the material as described.

    >>> from kb.job import job_of
    >>> job = job_of({"part": {"substrate": "?", "thickness_mm": 3}, "service": {"temperature_c": [0, 40]}}, "t")
    >>> print(part_table({"family": "abs", "porous": False, "crazed_by": ("ketone",)}, job), end="")
    [part]
    substrate = { family = "abs", porous = false, crazed_by = ["ketone"] }
    thickness_mm = 3.0
    """
    rest = job.part.model_dump(mode="json", exclude={"substrate"}, exclude_defaults=True)
    lines = ["[part]", f"substrate = {_toml(given)}", *(f"{name} = {_toml(value)}" for name, value in rest.items())]
    return "".join(f"{line}\n" for line in lines)


def _toml(value: Any) -> str:
    """A value as TOML: strings, numbers, booleans and lists are written as JSON writes them."""
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{name} = {_toml(inner)}" for name, inner in value.items()) + " }"
    return json.dumps(_plain(value), ensure_ascii=False)


def _plain(value: Any) -> Any:
    return [_plain(inner) for inner in value] if isinstance(value, (list, tuple)) else value


def _wrapped(text: str, lead: str) -> str:
    return textwrap.fill(text, WIDTH, initial_indent=lead, subsequent_indent=" " * len(lead), break_on_hyphens=False)
