"""The questions of an interview as they are put, and what comes out of it: a `[part]` table, and the plan."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

from kb.engine.conflict import Trouble
from kb.engine.plan import Plan
from kb.job import Job
from kb.materials.resolve import Resolved
from kb.planning.describe import Interview
from kb.planning.gaps import Answer, Question
from kb.report.described import plain
from kb.report.plan_json import plan_json
from kb.report.plan_text import plan_text
from kb.report.text import wrapped

#: Said once, before the first question.
OPENING = (
    "Only what would change the chain is asked. Enter: it isn't known, and stays unknown. back: the last answer again. "
    "Ctrl-D: no more questions."
)


def question_text(question: Question, answers: Sequence[Answer]) -> str:
    """Give a question as it is put, with its numbered answers."""
    lines = ["", wrapped(question.ask, ""), wrapped(question.test, "  bench:      ")]
    lines.append(wrapped(question.sheet, "  data sheet: "))
    if question.choice is None:
        offered = [a for a in answers if a in question.answers]
        lines += [wrapped(answer.say, f"  {number:>2}  ") for number, answer in enumerate(offered, start=1)]
    else:
        lines.append(wrapped(", ".join(answer.key for answer in answers), "  one of: "))
    return "".join(f"{line}\n" for line in lines)


def prompt_text(question: Question) -> str:
    """Tell what may be typed.

    >>> from kb.planning.gaps import Question
    >>> heat = Question("heat", "What heat does it endure?", "", "", (), (), "max_temperature_c", "degC", (), None)
    >>> prompt_text(heat)
    "figure in degC, or Enter if it isn't known: "
    """
    kinds = [
        "number" if question.answers else "",
        f"figure in {question.unit}" if question.number and not question.answers else "",
        f"a figure in {question.unit}" if question.number and question.answers else "",
        "name" if question.choice else "",
    ]
    return f"{', '.join(filter(None, kinds)) or 'figure'}, or Enter if it isn't known: "


def describe_json(interview: Interview, plan: Plan, resolved: Resolved, clash: Trouble | None) -> dict[str, Any]:
    """Give `tackroom.describe/1`."""
    return {
        "schema": "tackroom.describe/1",
        "part": {"substrate": {name: plain(value) for name, value in interview.given.items()}},
        "answers": interview.answers,
        "open": [question.id for question in interview.open()],
        "plan": plan_json(plan, resolved, clash),
    }


def describe_text(interview: Interview, plan: Plan, resolved: Resolved, clash: Trouble | None) -> str:
    """Give the `[part]` table first, then the plan, then what is still open to be asked."""
    left = [question.ask for question in interview.open()]
    would = "".join(f"{wrapped(ask, '  - ')}\n" for ask in left)
    return f"{part_table(interview.given, interview.job)}\n{plan_text(plan, resolved, clash)}" + (
        f"STILL OPEN: an answer would change the chain\n{would}" if left else ""
    )


def part_table(given: Mapping[str, Any], job: Job) -> str:
    """Give the `[part]` table of a job file, with the material as described.

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
    """Give a value as TOML: strings, numbers, booleans and lists are written as JSON writes them."""
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{name} = {_toml(inner)}" for name, inner in value.items()) + " }"
    return json.dumps(plain(value), ensure_ascii=False)
