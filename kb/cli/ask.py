"""The commands `check`, `matrix`, `explain` and `compare`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from kb.base.errors import ACT, NO_CHAIN, BadInput
from kb.cli.common import AsJson, Workspace, job_in, known_by_lab, print_json, print_text
from kb.cli.files import must_end_in, put
from kb.cli.planned import planned


def _setting(job: Path | None, known: Any) -> Any:
    """Give the job in a file with what its part is made of; None without one."""
    if job is None:
        return None
    from kb.planning.ask import setting_for

    return setting_for(job_in(job), known, f"{job}: part.substrate")


def check(
    items: Annotated[
        list[str],
        typer.Argument(
            help="Two or more: items, classes (instant adhesive), chemicals (bleach), aids, or exposures (gear oil). "
            'Between them "on", "over", "under" or "then" says the order: butyl-mastic over "PU lacquer".'
        ),
    ],
    job: Annotated[Path | None, typer.Option(help="A job file to check them for.")] = None,
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """Say whether things go together, and whether anybody knows: exit status 0 for what is known to, alone."""
    from kb.engine.check import answer, question, remedies
    from kb.engine.plan import Engine
    from kb.report.check import check_json, check_text

    if (file := next((word for word in items if word.endswith(".toml")), None)) is not None:
        raise BadInput("check", f"'{file}' is a job file", f"the things are checked for it with --job {file}")
    known = known_by_lab(workspace)
    engine = Engine(known)
    setting = _setting(job, known)
    found = answer(engine, question(items, known, "check"), setting)
    alone = [one.things[0] for one in found.asked] if not found.members else []
    ways = remedies(engine, alone, found.checked, setting) if alone else []
    print_json(check_json(found, ways)) if as_json else print_text(check_text(found, ways))
    if found.checked.verdict != "compatible":
        raise typer.Exit(ACT)


def matrix(
    rows: Annotated[
        str, typer.Argument(help="The kind of the rows: substrate, degreaser, adhesive, coating, …, exposure.")
    ] = "adhesive",
    columns: Annotated[str, typer.Argument(help="The kind of the columns.")] = "coating",
    job: Annotated[Path | None, typer.Option(help="A job file to check them for.")] = None,
    output: Annotated[Path | None, typer.Option("-o", "--output", help="Write it to a file: .html or .csv.")] = None,
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """Check every item of one kind with every item of another."""
    from kb.engine.check import grid_of
    from kb.engine.plan import Engine
    from kb.report import matrix as report

    writers = {".html": report.grid_html, ".csv": report.grid_csv}
    must_end_in(output, tuple(writers))
    known = known_by_lab(workspace)
    grid = grid_of(Engine(known), rows, columns, _setting(job, known))
    if output is not None:
        put(writers[output.suffix.lower()](grid), output)
    else:
        print_json(report.grid_json(grid)) if as_json else print_text(report.grid_text(grid))


def explain(
    job: Annotated[Path, typer.Argument(help="The job file (TOML).")],
    item: Annotated[str, typer.Argument(help="An adhesive, coating, degreaser, …, by id or name.")],
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """Say why an item is in, out or behind: the rules with the facts seen, what it lost by, what would let it in."""
    from kb.engine.why import explain as find
    from kb.materials import resolve
    from kb.report.why import why_json, why_text
    from kb.rules.roles import CHAIN_KINDS

    asked = planned(job, workspace, 1)
    entry = resolve.item(item, asked.engine.knowledge, "explain", CHAIN_KINDS).entry
    why = find(asked.engine, asked.plan, entry)
    print_json(why_json(why)) if as_json else print_text(why_text(why))


def compare(
    job: Annotated[Path, typer.Argument(help="The job file (TOML).")],
    sides: Annotated[
        list[str] | None, typer.Argument(help="Ranks of two chains (left out: 1 and 2), or another job file.")
    ] = None,
    settings: Annotated[
        list[str] | None,
        typer.Option(
            "--with", help="Against the same job with FIELD=VALUE: service.temperature_c[1]=80; may be repeated."
        ),
    ] = None,
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """Set two chains, or one job under two conditions, side by side."""
    from kb.planning.ask import ask
    from kb.planning.compare import Comparison, changed, ranked, side_of
    from kb.report.compare import compare_json, compare_text

    given = sides or []
    if settings and given:
        raise BadInput("compare", "--with stands for the other side; nothing else may", "leave out one of them")
    if settings:
        asked = planned(job, workspace, 1)
        other = ask(asked.engine, changed(asked.job, settings, "--with"), "--with", 1)
        found = Comparison(side_of(asked, "as it is"), side_of(other, ", ".join(settings)))
    elif len(given) == 1:
        asked = planned(job, workspace, 1)
        other = planned(Path(given[0]), workspace, 1, engine=asked.engine)
        found = Comparison(side_of(asked, job.name), side_of(other, Path(given[0]).name))
    elif len(given) in (0, 2) and all(rank.isdecimal() and int(rank) > 0 for rank in given):
        ranks = [int(rank) for rank in given or ("1", "2")]
        found = ranked(planned(job, workspace, max(ranks)).plan, *ranks)
    else:
        raise BadInput("compare", f"{' '.join(given)}: neither two ranks nor a job file", "for instance: job.toml 1 3")
    print_json(compare_json(found)) if as_json else print_text(compare_text(found))
    if found.one.chain is None and found.other.chain is None:
        raise typer.Exit(NO_CHAIN)
