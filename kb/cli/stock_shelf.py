"""The commands of `stock` that look: at the shelf, at what of it needs somebody, and at a lot."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from kb.base.errors import ACT, BadInput
from kb.cli.common import AsJson, Workspace, print_json, print_text, workspace_folder
from kb.cli.stock_common import Known, On, Within, app, days, open_items, open_ledger


@app.command("list")
def list_lots(
    on: On = None,
    known: Known = None,
    everything: Annotated[bool, typer.Option("--all", help="Empty lots too.")] = False,
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """List the lots of a day, what is left of each and how long it may be used."""
    from kb.stock.flags import judged
    from kb.stock.view import shelf_document, shelf_text
    from kb.work.reserving import reserved_in

    day, by = days(on, known)
    ledger = open_ledger(workspace)
    lots = judged(ledger.shelf(day, by), open_items(workspace, ledger).facts, day)
    kept = {} if by else reserved_in(ledger)
    if as_json:
        print_json(shelf_document(lots, day, by, kept))
    else:
        print_text(shelf_text(lots, f"Shelf of {workspace_folder(workspace)}", day, by, kept, everything))


@app.command()
def flag(
    on: On = None,
    known: Known = None,
    within: Within = None,
    job: Annotated[Path | None, typer.Option("--job", help="A job file: what of its first chain won't last?")] = None,
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """Tell what must not be used, what expires soon or unused, and what to order. Exit status 1 if any is barred."""
    from kb.stock.flags import flags
    from kb.stock.products import Products
    from kb.stock.supplies import Supplies
    from kb.stock.view import flags_document, flags_text

    day, by = days(on, known)
    planned = _last_uses(job, workspace) if job is not None else None
    supplies = Supplies.load(workspace_folder(workspace))
    leads = {**Products.load(workspace_folder(workspace)).lead_days, **supplies.lead_days}
    ledger = open_ledger(workspace)
    shelf = ledger.shelf(day, by)
    found = flags(shelf, open_items(workspace, ledger).facts, day, within, leads, planned, supplies.minimums)
    if as_json:
        print_json(flags_document(found, by))
    else:
        print_text(flags_text(found, f"Shelf of {workspace_folder(workspace)}", by))
    if found.barred:
        raise typer.Exit(ACT)


def _last_uses(path: Path, workspace: Path | None) -> dict[str, str]:
    """Give the items that a job takes, each with the day on which the last of it is used."""
    from kb.cli.work import asked
    from kb.work.picking import needs_on

    work = asked(path, 1, workspace)
    if work.job.job.planned_on is None:
        raise BadInput(f"{path}: job.planned_on", "is missing", "give the day of the job")
    day = work.job.job.planned_on.isoformat()
    return {need.item: need.last_used or day for need in needs_on(work.estimate, day)}


@app.command()
def history(lot: str, as_json: AsJson = False, workspace: Workspace = None) -> None:
    """Show what happened to a lot, in the order of recording."""
    from kb.stock.view import history_document, history_text

    events = open_ledger(workspace).history(lot)
    if as_json:
        print_json(history_document(events, lot))
    else:
        print_text(history_text(events))
