"""The commands `sheet` and `picture`."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from kb.base.errors import BadInput
from kb.cli.common import OnDay, Workspace, known_by_lab
from kb.cli.day import ChainRank, JobFile
from kb.cli.files import put, put_page
from kb.cli.planned import planned
from kb.cli.work import Work

if TYPE_CHECKING:
    from kb.engine.chain import Chain
    from kb.engine.plan import Plan
    from kb.report.pictures import Picture

Output = Annotated[
    Path | None,
    typer.Option("-o", "--output", help="Write it to this file: HTML, or PDF by its name; a picture is SVG."),
]
AsText = Annotated[bool, typer.Option("--text", help="In words, for whoever can't see it.")]


class Form(StrEnum):
    """Whom the paper is for."""

    bench = "bench"
    approval = "approval"


class Sheet(StrEnum):
    """The paper that it is printed on."""

    a4 = "a4"
    letter = "letter"


def sheet(
    job: JobFile,
    output: Output = None,
    form: Annotated[Form, typer.Option(help="For the bench (bench), or for whoever approves (approval).")] = Form.bench,
    paper: Annotated[Sheet, typer.Option(help="The size of the paper: a4 or letter.")] = Sheet.a4,
    chain: ChainRank = 1,
    pick: Annotated[bool, typer.Option("--pick", help="Fill in the lots that `pick` would take.")] = False,
    on: OnDay = None,
    workspace: Workspace = None,
) -> None:
    """Write a chain as a page to print: to work from at the bench, or to approve."""
    from kb.report.approval import approval_form
    from kb.report.sheet import bench_sheet

    asked = planned(job, workspace, max(3, chain))
    plan, resolved, chosen = asked.plan, asked.resolved, asked.chain(chain)
    if form is Form.approval:
        if pick:
            raise BadInput("--pick", "an approval form has no lots", "leave it out, or ask for the bench sheet")
        put_page(approval_form(plan, resolved, chosen, paper.value, asked.hangs_on, asked.others), output)
        return
    picked = Work(plan.job, plan, chosen).lots(on, workspace) if pick else None
    put_page(bench_sheet(plan, resolved, chosen, paper.value, picked), output)


pictures = typer.Typer(no_args_is_help=True, rich_markup_mode=None, help="Draw a picture (SVG), or say it in words.")


@pictures.command()
def temperatures(
    job: JobFile, output: Output = None, as_text: AsText = False, chain: ChainRank = 1, workspace: Workspace = None
) -> None:
    """Draw the temperature windows of backings, adhesives and coats beside the job's range."""
    from kb.report.pictures.temperatures import temperature_picture

    plan, chosen = _planned(job, chain, workspace)
    _show(temperature_picture(plan, chosen), output, as_text)


@pictures.command()
def timeline(
    job: JobFile, output: Output = None, as_text: AsText = False, chain: ChainRank = 1, workspace: Workspace = None
) -> None:
    """Draw the cures and waits of a chain along a time line."""
    from kb.report.pictures.timeline import timeline_picture

    plan, chosen = _planned(job, chain, workspace)
    _show(timeline_picture(plan, chosen), output, as_text)


@pictures.command()
def layers(
    job: JobFile, output: Output = None, as_text: AsText = False, chain: ChainRank = 1, workspace: Workspace = None
) -> None:
    """Draw thermal mismatch and stiffening, layer by layer."""
    from kb.report.pictures.layers import layers_picture

    plan, chosen = _planned(job, chain, workspace)
    _show(layers_picture(plan, chosen), output, as_text)


@pictures.command()
def pairs(
    rows: Annotated[str, typer.Argument(help="The kind of the rows: degreaser, adhesive, coating, …, exposure.")],
    columns: Annotated[str, typer.Argument(help="The kind of the columns.")],
    output: Output = None,
    as_text: AsText = False,
    workspace: Workspace = None,
) -> None:
    """Draw the verdict on every pair of two kinds."""
    from kb.engine.check import grid_of
    from kb.engine.plan import Engine
    from kb.report.pictures.grids import matrix_picture

    engine = Engine(known_by_lab(workspace))
    _show(matrix_picture(grid_of(engine, rows, columns)), output, as_text)


@pictures.command()
def coverage(
    family: Annotated[list[str] | None, typer.Option(help="Only this substrate family; may be repeated.")] = None,
    output: Output = None,
    as_text: AsText = False,
    workspace: Workspace = None,
) -> None:
    """Draw which substrate families have a chain in which surroundings (all of them: a minute or two)."""
    from kb.base.errors import nearest
    from kb.engine.plan import Engine
    from kb.planning.coverage import cell, columns, representatives
    from kb.report.pictures.grids import coverage_picture

    engine = Engine(known_by_lab(workspace))
    members = representatives(engine.knowledge)
    for word in family or ():
        if word not in members:
            raise BadInput(
                "--family", f"'{word}' is no substrate family", nearest(word, members) or "see `tackroom list`"
            )
    chosen = [members[name] for name in family or members]
    _show(coverage_picture(cell(engine, entry, c) for entry in chosen for c in columns()), output, as_text)


def _planned(path: Path, rank: int, workspace: Path | None) -> tuple[Plan, Chain]:
    """Give the plan of a job, and the chain of that rank."""
    found = planned(path, workspace, max(3, rank))
    return found.plan, found.chain(rank)


def _show(picture: Picture, output: Path | None, as_text: bool) -> None:
    put(picture.text if as_text else picture.svg, output, (".txt",) if as_text else (".svg",))
