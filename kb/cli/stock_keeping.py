"""The commands of `stock` for the ledger as a whole: lists and histories in and out, backups, and the check."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated, Literal

import typer

from kb.base import disk
from kb.base.errors import STORE, BadInput
from kb.cli.common import AsJson, Unwritable, Workspace, print_json, print_text, tell, today, workspace_folder
from kb.cli.files import Out, every_fault, put, put_table
from kb.cli.stock_common import (
    RECORDED,
    Ahead,
    At,
    DryRun,
    Who,
    app,
    meant,
    moment,
    open_items,
    open_ledger,
    person,
    said,
)

Column = Annotated[list[str] | None, typer.Option("--column", help="OURS=THEIRS: quantity='Amount left'; repeatable.")]
Skip = Annotated[list[str] | None, typer.Option("--skip", help="A column of the list to pass over; repeatable.")]
Dates = Annotated[
    Literal["iso", "day-first", "month-first"],
    typer.Option("--dates", help="How the list writes dates: 31/12/2027 is day-first."),
]


@app.command("import")
def import_file(
    file: Annotated[Path, typer.Argument(help="A shelf list (CSV or XLSX), or what `stock export` gave out.")],
    column: Column = None, skip: Skip = None, dates: Dates = "iso",
    keep: Annotated[bool, typer.Option("--remember", help="Read every list that follows like this one.")] = False,
    at: At = None, who: Who = None, ahead: Ahead = False,
    dry_run: DryRun = False, as_json: AsJson = False, workspace: Workspace = None,
) -> None:  # fmt: skip
    """Take in a shelf list, a history, or all of another workspace: everything in it or nothing."""
    from kb.stock.interchange import brought, take_in
    from kb.stock.layout import layout_of, remember, remembered
    from kb.stock.shelf_list import KNOWN
    from kb.work.forms import checked

    ledger, folder = open_ledger(workspace), workspace_folder(workspace)
    layout = remembered(folder, KNOWN).and_(layout_of(column or (), skip or (), dates, KNOWN))
    with every_fault():
        found = brought(disk.read(file), file.name, open_items(workspace, ledger), moment(at), person(who), layout)
        ahead = meant(found.drafts, ahead)
        events = take_in(found, ledger, folder, today(), checked, ahead, write=not dry_run)
    if layout and found.drafts:
        tell(f"Read so: {layout.text()}.")
    if keep and not dry_run:
        remember(folder, layout)
        tell("Every list that follows is read so: `stock layout` shows it, and with --forget forgets it.")
    said(events, dry_run, as_json)


@app.command()
def layout(
    column: Column = None,
    skip: Skip = None,
    dates: Dates = "iso",
    forget: Annotated[bool, typer.Option("--forget", help="Forget it: lists are read by our own columns.")] = False,
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """Show how the lab's lists are read by `import`: what they call the columns, how they write dates; or change it."""
    from kb.stock.layout import forget as let_go
    from kb.stock.layout import layout_of, remember, remembered
    from kb.stock.shelf_list import KNOWN

    folder = workspace_folder(workspace)
    more = layout_of(column or (), skip or (), dates, KNOWN)
    if forget and more:
        raise BadInput("--forget", "something is to be kept as well", "leave one of them out")
    if forget and not let_go(folder):
        raise BadInput("--forget", "no layout was kept", "lists are read by our own columns")
    if more:
        remember(folder, remembered(folder, KNOWN).and_(more))
    found = remembered(folder, KNOWN)
    if as_json:
        print_json({"schema": "tackroom.stock-layout/1", **found.document()})
    else:
        print_text(f"{found.text() if found else 'Lists are read by our own columns, with ISO dates'}.\n")


@app.command()
def export(
    form: Annotated[
        Literal["csv", "json"], typer.Option("--format", help="json: everything; csv: the stock's events as a table.")
    ] = "json",
    shelf: Annotated[bool, typer.Option("--shelf", help="The lots as they stand (CSV), without the history.")] = False,
    out: Out = None,
    workspace: Workspace = None,
) -> None:
    """Give out everything that the workspace holds, for another to take in and go on from; or the shelf as a list."""
    from kb.stock.history_table import table_of
    from kb.stock.portable import everything
    from kb.stock.shelf_list import shelf_csv

    ledger = open_ledger(workspace)
    if shelf:
        put_table(shelf_csv(ledger.shelf().lots.values()), out, "shelf")
    elif form == "csv":
        put_table(table_of(ledger.documents("stock")), out, "history")
        if count := len(ledger.documents("work")):
            tell(f"A table holds the stock's events; {count} records and reservations are in --format json alone.")
    else:
        put(json.dumps(everything(ledger, workspace_folder(workspace)), ensure_ascii=False, indent=1) + "\n", out)


@app.command()
def backup(
    file: Annotated[Path, typer.Argument(help="A new file.")], as_json: AsJson = False, workspace: Workspace = None
) -> None:
    """Copy everything to one file, while others may go on working; it is checked by reading it back."""
    from kb.stock.backup import backup as copy
    from kb.stock.view import report_document, report_text

    report = copy(open_ledger(workspace), workspace_folder(workspace), file)
    try:
        print_json(report_document(report)) if as_json else print_text(f"{file}: {report_text(report)}")
    except Unwritable as fault:
        raise Unwritable(fault.what, f"the backup was written: {file}") from None


@app.command()
def restore(
    file: Annotated[Path, typer.Argument(help="What `stock backup` wrote.")],
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """Put a backup into an empty workspace, which is made where it isn't there."""
    from kb.stock.backup import restore as put_back
    from kb.stock.view import report_document, report_text
    from kb.work.forms import checked

    if workspace is not None and file.is_file() and not workspace.exists():
        try:
            workspace.mkdir(parents=True)
        except OSError as fault:
            raise BadInput(str(workspace), f"can't be made: {fault.strerror}", "name another workspace") from None
    folder = workspace_folder(workspace)
    report = put_back(file, open_ledger(workspace), folder, checked)
    try:
        print_json(report_document(report)) if as_json else print_text(f"{folder}: {report_text(report)}")
    except Unwritable as fault:
        raise Unwritable(fault.what, RECORDED) from None


@app.command()
def verify(as_json: AsJson = False, workspace: Workspace = None) -> None:
    """Check every byte, link, event and sum of the ledger, and the records. Exit status 4 where anything is wrong."""
    from kb.stock.view import report_document, report_text
    from kb.work.checking import verify as check

    report = check(open_ledger(workspace))
    if as_json:
        print_json(report_document(report))
    else:
        print_text(report_text(report))
    if report.problems:
        raise typer.Exit(STORE)
