"""The command `describe`: questions about a material that the catalog lacks, until no answer changes the chain."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated, Any

import typer

from kb.cli.common import AsJson, Workspace, print_json, print_text, workspace_of
from kb.errors import NO_CHAIN, BadInput


def describe(
    job: Annotated[Path, typer.Argument(help="The job file; what its [part] says of the material counts.")],
    like: Annotated[str | None, typer.Option(help="A catalogued material that it is like.")] = None,
    family: Annotated[str | None, typer.Option(help="The substrate family that it is of.")] = None,
    answers: Annotated[Path | None, typer.Option(help="Answers by question, and [facts], in a TOML file.")] = None,
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """Ask what decides the chain on a material that the catalog lacks; print the [part] table, and the plan."""
    from kb import knowledge
    from kb.describe import Interview
    from kb.engine.plan import Engine
    from kb.job import read_job
    from kb.loading import read_toml

    asked = read_job(job)
    engine = Engine(knowledge.load(workspace_of(workspace)))
    said = asked.part.substrate
    given: dict[str, Any] = dict(said) if isinstance(said, dict) else {"name": said}
    given |= {name: value for name, value in (("like", like), ("family", family)) if value is not None}
    interview = Interview(engine, asked, given, str(answers or job))
    if answers is not None:
        interview.take(read_toml(answers))
    else:
        _ask(interview)
    _print(interview, as_json)


def _ask(interview: Any) -> None:
    """Each question on standard error, its answer from standard input."""
    from kb.report.interview import question_text

    while (question := interview.next()) is not None:
        sys.stderr.write(question_text(question, interview.possible(question)))
        line = sys.stdin.readline()
        if not line:
            raise BadInput(
                "describe",
                f"standard input ended at the question '{question.id}'",
                "answer at a terminal, or give --answers FILE.toml",
            )
        try:
            interview.choose(question, line.strip())
        except BadInput as fault:
            sys.stderr.write(f"{fault}\n")


def _print(interview: Any, as_json: bool) -> None:
    from kb.engine.conflict import trouble
    from kb.report.interview import describe_json, describe_text

    resolved, plan = interview.resolved(), interview.plan(3)
    clash = None if plan.chains else trouble(interview.engine, plan)
    if as_json:
        print_json(describe_json(interview, plan, resolved, clash))
    else:
        print_text(describe_text(interview, plan, resolved, clash))
    if not plan.chains:
        raise typer.Exit(NO_CHAIN)
