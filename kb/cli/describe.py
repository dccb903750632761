"""The command `describe`: questions about a material that the catalog lacks, until no answer changes the chain."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated, Any

import typer

from kb.base.errors import NO_CHAIN, BadInput
from kb.cli.common import AsJson, Workspace, job_in, known_by_lab, print_json, print_text


def describe(
    job: Annotated[Path, typer.Argument(help="The job file; what its [part] says of the material counts.")],
    like: Annotated[str | None, typer.Option(help="A catalogued material that it is like.")] = None,
    family: Annotated[str | None, typer.Option(help="The substrate family that it is of.")] = None,
    answers: Annotated[Path | None, typer.Option(help="Answers by question, and [facts], in a TOML file.")] = None,
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """Ask what decides the chain on a material that the catalog lacks; print the [part] table, and the plan."""
    from kb.base.files import read_toml
    from kb.engine.plan import Engine
    from kb.planning.describe import Interview

    asked = job_in(job)
    engine = Engine(known_by_lab(workspace))
    said = asked.part.substrate
    given: dict[str, Any] = dict(said) if isinstance(said, dict) else {"name": said}
    given |= {name: value for name, value in (("like", like), ("family", family)) if value is not None}
    if isinstance(said, str) and like is None and family is None:
        _lacking(said, engine.knowledge, job)
    interview = Interview(engine, asked, given, str(answers or job))
    if answers is not None:
        interview.take(read_toml(answers))
    else:
        _ask(interview)
    _print(interview, as_json)


def _lacking(words: str, known: Any, job: Path) -> None:
    """BadInput where the catalog has what `words` mean: that is better known than answers can tell."""
    from kb.materials.identify import clear, identify

    matches = identify(words, known)
    if matches and clear(matches):
        name = matches[0].entry.id
        mend = f"plan it as it stands, or say what it is like and what differs: --like {name}"
        raise BadInput(f"{job}: part.substrate", f"'{words}' is in the catalog: {name}", mend)


def _ask(interview: Any) -> None:
    """Ask each question on standard error, take its answer from standard input, until there are no more of either."""
    from kb.report.interview import OPENING, question_text
    from kb.report.text import wrapped

    question = interview.next()
    if question is not None:
        sys.stderr.write(f"{wrapped(OPENING, '')}\n")
    while question is not None:
        sys.stderr.write(question_text(question, interview.possible(question)))
        if not _answered(interview, question):
            sys.stderr.write("\nstopped: what was not asked stays unknown\n")
            return
        question = interview.next()


def _answered(interview: Any, question: Any) -> bool:
    """Ask until something can be taken, or is taken back; False where the input ends."""
    from kb.report.interview import prompt_text

    while True:
        sys.stderr.write(prompt_text(question))
        sys.stderr.flush()
        line = sys.stdin.readline()
        if not line:
            if interview.answers:
                return False
            what = f"standard input ended at the question '{question.id}'"
            raise BadInput("describe", what, "answer at a terminal, or give --answers FILE.toml")
        if line.strip().casefold() == "back":
            if interview.back():
                return True
            sys.stderr.write("  there is no answer before this one\n")
            continue
        try:
            interview.choose(question, line)
        except BadInput as fault:
            sys.stderr.write(f"  {fault.what}; {fault.mend}\n")
        else:
            return True


def _print(interview: Any, as_json: bool) -> None:
    from kb.report.interview import describe_json, describe_text

    asked = interview.asked(3)
    answer = (interview, asked.plan, asked.resolved, asked.trouble)
    print_json(describe_json(*answer)) if as_json else print_text(describe_text(*answer))
    if not asked.plan.chains:
        raise typer.Exit(NO_CHAIN)
