"""The commands `check` and `matrix`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from kb.cli.common import AsJson, Workspace, print_json, print_text, workspace_of
from kb.errors import ACT, BadInput


def _job_facts(job: Path | None, known: Any) -> Any:
    """The facts of a job file by role, its material among them; None without one."""
    if job is None:
        return None
    from kb import resolve
    from kb.job import read_job

    asked = read_job(job)
    entry = resolve.substrate(asked.part.substrate, known, f"{job}: part.substrate").entry
    return {"substrate": entry.facts, **asked.facts(entry.facts)}


def check(
    items: Annotated[
        list[str], typer.Argument(help="Two or more items by id or name, or exposures; coats innermost first.")
    ],
    job: Annotated[Path | None, typer.Option(help="A job file to check them for.")] = None,
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """Say whether things go together: any two or more of the catalog, or exposures."""
    from kb import knowledge
    from kb.engine.check import check as judge
    from kb.engine.check import thing
    from kb.report.check import check_json, check_text

    if len(items) < 2:
        raise BadInput("check", "one item alone has nothing to be checked with", "name two or more")
    known = knowledge.load(workspace_of(workspace))
    things = [thing(words, known, "check") for words in items]
    checked = judge(known, things, _job_facts(job, known))
    print_json(check_json(checked)) if as_json else print_text(check_text(checked))
    if checked.verdict == "blocked":
        raise typer.Exit(ACT)


def matrix(
    rows: Annotated[
        str, typer.Argument(help="The kind of the rows: substrate, degreaser, adhesive, coating, …, exposure.")
    ],
    columns: Annotated[str, typer.Argument(help="The kind of the columns.")],
    job: Annotated[Path | None, typer.Option(help="A job file to check them for.")] = None,
    output: Annotated[Path | None, typer.Option("-o", "--output", help="Write it: .html, .csv or .json.")] = None,
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """Check every item of one kind with every item of another."""
    from kb import knowledge
    from kb.engine.check import grid_of
    from kb.report import check as report

    known = knowledge.load(workspace_of(workspace))
    grid = grid_of(known, rows, columns, _job_facts(job, known))
    if output is None:
        print_json(report.grid_json(grid)) if as_json else print_text(report.grid_text(grid))
        return
    writers = {".html": report.grid_html, ".csv": report.grid_csv}
    if output.suffix not in writers:
        raise BadInput(str(output), "is neither .html nor .csv", "name the file accordingly")
    try:
        output.write_text(writers[output.suffix](grid), encoding="utf-8")
    except OSError as fault:
        raise BadInput(str(output), f"can't be written: {fault.strerror}", "name another file") from None
