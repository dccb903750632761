"""The commands of `stock` that look: at the shelf, at a lot, at the store itself; and the one that mends it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from kb.base.errors import ACT, STORE
from kb.cli.common import AsJson, Workspace, print_json, print_text, workspace_of
from kb.cli.stock_common import On, Within, Yes, app, confirm, moment, open_items, open_store, workspace_folder


@app.command("list")
def list_lots(
    on: On = None,
    everything: Annotated[bool, typer.Option("--all", help="Empty lots too.")] = False,
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """List the lots, what is left of each and how long it may be used."""
    from kb.stock.flags import judged
    from kb.stock.shelf import shelf_of
    from kb.stock.view import shelf_document, shelf_text

    day = moment(on, "--on")
    lots = judged(shelf_of(open_store(workspace)), open_items(workspace).facts, day)
    if as_json:
        print_json(shelf_document(lots, day))
    else:
        print_text(shelf_text(lots, everything))


@app.command()
def flag(
    on: On = None,
    within: Within = None,
    job: Annotated[Path | None, typer.Option("--job", help="A job file: what of its first chain won't last?")] = None,
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """Tell what must not be used, what expires soon or unused, and what to order. Exit status 1 if any is barred."""
    from kb.stock.flags import flags
    from kb.stock.products import Products
    from kb.stock.shelf import shelf_of
    from kb.stock.view import flags_document, flags_text
    from kb.work.planned import needs_of

    day = moment(on, "--on")
    planned = needs_of(job, workspace_of(workspace)) if job is not None else None
    leads = Products.load(workspace_folder(workspace)).lead_days
    found = flags(shelf_of(open_store(workspace)), open_items(workspace).facts, day, within, leads, planned)
    if as_json:
        print_json(flags_document(found))
    else:
        print_text(flags_text(found))
    if found.barred:
        raise typer.Exit(ACT)


@app.command()
def history(lot: str, as_json: AsJson = False, workspace: Workspace = None) -> None:
    """Show what happened to a lot, in order."""
    from kb.stock.shelf import lot_of
    from kb.stock.view import events_text, history_document

    _, events = lot_of(open_store(workspace), lot)
    if as_json:
        print_json(history_document(events, lot))
    else:
        print_text(events_text(events))


@app.command()
def verify(as_json: AsJson = False, workspace: Workspace = None) -> None:
    """Check every byte, event and sum of what is stored, and the records. Exit status 4 where anything is wrong."""
    from kb.stock.view import report_document, report_text
    from kb.work.installations import verify as verify_records

    store = open_store(workspace)
    report = store.verify()
    if not report.problems:
        report += verify_records(workspace_folder(workspace), store)
    if as_json:
        print_json(report_document(report))
    else:
        print_text(report_text(report))
    if report.problems:
        raise typer.Exit(STORE)


@app.command()
def repair(yes: Yes = False, as_json: AsJson = False, workspace: Workspace = None) -> None:
    """Mend a damaged store from its copy; the damaged files are set aside. Exit status 1 where events are lost."""
    from kb.stock.view import report_document, report_text

    confirm(yes, "Put a mended store in the place of the damaged one (which is set aside)?")
    report = open_store(workspace).repair()
    if as_json:
        print_json(report_document(report))
    else:
        print_text(report_text(report))
    if report.problems:
        raise typer.Exit(ACT)
