"""The commands `plan`, `demo`, `list`, `show`, `identify`, `rules`, `lint` and `calc`."""

from pathlib import Path
from typing import Annotated, Any

import typer

from kb.base.errors import ACT, NO_CHAIN, BadInput
from kb.cli.common import AsJson, OnDay, Workspace, job_in, known_by_lab, print_json, print_text, workspace_of

# No `from __future__ import annotations` here: Typer would have to compile each option's from its text.
app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)


@app.command()
def plan(
    jobs: Annotated[
        list[Path] | None, typer.Argument(metavar="JOB", help="The job file (TOML); many of them with --json-lines.")
    ] = None,
    substrate: Annotated[str | None, typer.Option(help="Quick question: what the part is made of.")] = None,
    temperature: Annotated[
        tuple[float, float] | None, typer.Option(help="Quick question: lowest and highest, degC.")
    ] = None,
    exposure: Annotated[list[str] | None, typer.Option(help="Quick question: an exposure; may be repeated.")] = None,
    days: Annotated[float | None, typer.Option(help="Quick question: days in service.")] = None,
    ready_within: Annotated[float | None, typer.Option(help="Quick question: hours until it must be ready.")] = None,
    top: Annotated[int, typer.Option(min=1, max=1000, help="How many chains.")] = 3,
    prefer: Annotated[
        str | None,
        typer.Option(
            help="What counts more: time, headroom, few-hazards, few-steps (its points count ten times); "
            "or stock, which is --stock."
        ),
    ] = None,
    stock: Annotated[bool, typer.Option("--stock", help="Chains that the shelf can supply come first.")] = False,
    settings: Annotated[
        list[str] | None,
        typer.Option(
            "--set", help="With a fact changed, ITEM.FIELD=VALUE: acetone.flash_point_c=-20; may be repeated."
        ),
    ] = None,
    on: OnDay = None,
    full: Annotated[bool, typer.Option("--full", help="All of it: points, steps, cautions, refusals.")] = False,
    steps: Annotated[bool, typer.Option("--steps", help="The steps of the first chain alone.")] = False,
    refused: Annotated[bool, typer.Option("--refused", help="What was refused, and why, alone.")] = False,
    hangs_on: Annotated[
        bool, typer.Option("--hangs-on", help="The facts that, moved within their spread, change the answer, alone.")
    ] = False,
    as_json: AsJson = False,
    json_lines: Annotated[
        bool, typer.Option("--json-lines", help="For each of many job files its JSON document, in one line.")
    ] = False,
    workers: Annotated[
        int | None, typer.Option(min=1, max=1000, help="With --json-lines: how many processes (one for each core).")
    ] = None,
    workspace: Workspace = None,
) -> None:
    """Rank the chains that suit a job, with steps and reasons."""
    from kb.cli.batch import Terms, run
    from kb.job import job_of

    shown = _shown(as_json, full=full, steps=steps, refused=refused, hangs_on=hangs_on)
    given, terms = jobs or [], Terms(top, prefer, stock, on, workspace, tuple(settings or ()), hangs_on)
    if bool(given) == (substrate is not None):
        raise BadInput("plan", "give either a job file or --substrate", "for instance: plan job.toml")
    if json_lines:
        if not given or as_json:
            raise BadInput("--json-lines", "is for job files, and stands for --json", "plan jobs/*.toml --json-lines")
        raise typer.Exit(run(given, terms, workers))
    if workers is not None:
        raise BadInput("--workers", "is for many job files", "add --json-lines")
    quick = {"--temperature": temperature, "--exposure": exposure, "--days": days, "--ready-within": ready_within}
    if given and (told := next((name for name, value in quick.items() if value is not None), "")):
        raise BadInput(told, "is for a quick question; the job file says it itself", "leave it out, or change the file")
    if len(given) > 1:
        raise BadInput("plan", f"{len(given)} job files are given", "add --json-lines, or plan one at a time")
    if given:
        _answer(job_in(given[0]), str(given[0]), terms, shown)
        return
    if temperature is None:
        raise BadInput("plan", "--temperature is missing", "for instance: --temperature 10 60")
    service: dict[str, Any] = {"temperature_c": list(temperature)}
    if exposure:
        service["exposures"] = exposure
    if days is not None:
        service["duration_days"] = days
    asked: dict[str, Any] = {"job": {"name": "quick question"}, "part": {"substrate": substrate}, "service": service}
    if ready_within is not None:
        asked["limits"] = {"ready_within_h": ready_within}
    _answer(job_of(asked, "options"), "options", terms, shown)


def _shown(as_json: bool, **parts: bool) -> str:
    """Tell what of an answer is wanted; BadInput where two parts are."""
    wanted = [name for name, given in {"json": as_json, **parts}.items() if given]
    if len(wanted) > 1:
        one, other = (f"--{name.replace('_', '-')}" for name in wanted[:2])
        raise BadInput(other, f"{one} is given too", "ask for one of them")
    return wanted[0] if wanted else "short"


def _answer(job: Any, where: str, terms: Any, shown: str) -> None:
    asked = terms.planned(terms.engine(), job, where)
    if shown == "json":
        from kb.report.plan_json import plan_json

        told = asked.plan, asked.resolved, asked.trouble, asked.others, asked.supposed, asked.hangs_on
        print_json(plan_json(*told))
    else:
        from kb.report.plan_short import answer_text

        print_text(answer_text(asked, shown))
    if not asked.plan.chains:
        raise typer.Exit(NO_CHAIN)


@app.command()
def demo(
    name: Annotated[str | None, typer.Argument(help="One of the demo's jobs; left out: the board.")] = None,
    full: Annotated[bool, typer.Option("--full", help="All of it: points, steps, cautions, refusals.")] = False,
    as_json: AsJson = False,
) -> None:
    """Plan a job of the invented lab that the examples live in."""
    from kb.planning.demo import jobs

    known = jobs()
    chosen = name or next(iter(known))
    if chosen not in known:
        raise BadInput("demo", f"there is no demo job '{chosen}'", f"one of: {', '.join(known)}")
    from kb.cli.batch import Terms

    _answer(job_in(known[chosen]), known[chosen].name, Terms(), _shown(as_json, full=full))


@app.command("list")
def list_items(
    kind: Annotated[str | None, typer.Argument(help="substrate, degreaser, adhesive, coating, …")] = None,
    family: Annotated[str | None, typer.Option(help="Only this family.")] = None,
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """List catalog items."""
    from kb.report.items import items_json, items_text, select

    chosen = select(known_by_lab(workspace), kind, family)
    if as_json:
        print_json(items_json(chosen))
    else:
        print_text(items_text(chosen))


@app.command()
def show(item: str, as_json: AsJson = False, workspace: Workspace = None) -> None:
    """Show everything that is known of an item; of a class of materials ("brass"), its members."""
    from kb.base.vocabulary import KINDS
    from kb.materials import resolve
    from kb.report.items import class_text, item_json, item_text, items_json

    known = known_by_lab(workspace)
    found = resolve.item_or_class(item, known, "show", KINDS)
    members = [known.entry(member) for member in found.members]
    if as_json:
        print_json(items_json(members) if members else item_json(found.entry, known))
    else:
        print_text(class_text(item, members) if members else item_text(found.entry, known))


@app.command()
def identify(words: str, as_json: AsJson = False, workspace: Workspace = None) -> None:
    """Find what words may mean, best first: a part's material, or else anything in the catalog."""
    from kb.materials.beside import anything, other_kinds
    from kb.report.items import matches_json, matches_text

    known = known_by_lab(workspace)
    matches, found = anything(words, known)
    others = other_kinds(words, matches, known)
    if as_json:
        print_json(matches_json(words, matches, found, others))
    else:
        print_text(matches_text(words, matches, found, others))
    if not matches:
        raise typer.Exit(ACT)


@app.command()
def rules(as_json: AsJson = False, workspace: Workspace = None) -> None:
    """List every rule with its verdict and basis."""
    from kb.knowledge.cache import roots
    from kb.report.rules import rules_json, rules_text

    where = roots(workspace_of(workspace))
    if as_json:
        print_json(rules_json(where))
    else:
        print_text(rules_text(where))


@app.command()
def lint(as_json: AsJson = False, workspace: Workspace = None) -> None:
    """Check the knowledge: rules that don't prove themselves, dead items, uncited sources, and more."""
    from kb.knowledge.cache import roots
    from kb.lint import lint as run

    problems = run(roots(workspace_of(workspace)))
    if as_json:
        rows = [{"check": p.check, "where": p.where, "what": p.what, "tip": p.tip} for p in problems]
        print_json({"schema": "tackroom.lint/1", "problems": rows})
    else:
        print_text("".join(f"{p}\n" for p in problems) or "Nothing to mend.\n")
    if problems:
        raise typer.Exit(ACT)


@app.command()
def calc(
    name: Annotated[str | None, typer.Argument(help="A calculation; left out: list them.")] = None,
    inputs: Annotated[str, typer.Option(help='The inputs as JSON: {"air_temperature_c": 20}.')] = "{}",
    as_json: AsJson = False,
) -> None:
    """Run a named calculation, with its inputs and source shown."""
    from kb.report.calculations import calculation_json, calculation_text, list_json, list_text

    if name is None:
        print_json(list_json()) if as_json else print_text(list_text())
        return
    document = calculation_json(name, inputs)
    if as_json:
        print_json(document)
    else:
        print_text(calculation_text(document))
