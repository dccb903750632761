"""The commands of `stock` by which somebody decides on a lot, or on what was recorded of it."""

from __future__ import annotations

from typing import Annotated

import typer

from kb.cli.common import AsJson, Workspace
from kb.cli.stock_common import (
    Ahead,
    At,
    DryRun,
    Reason,
    Who,
    Yes,
    app,
    confirm,
    event,
    moment,
    open_ledger,
    person,
    write,
)


@app.command()
def requalify(
    lot: str,
    until: Annotated[str, typer.Option(help="The new last day, ISO.")],
    test: Annotated[str, typer.Option(help="The recorded test.")],
    reason: Annotated[str, typer.Option(help="Why it is good.")],
    at: At = None, who: Who = None, ahead: Ahead = False,
    dry_run: DryRun = False, as_json: AsJson = False, workspace: Workspace = None,
) -> None:  # fmt: skip
    """Record a test that gives a lot, as it stands, a new last day."""
    last = moment(until, "--until", ahead=True)
    write(workspace, event("requalified", lot, at, who, reason, until=last, test=test), dry_run, as_json, ahead)


@app.command()
def release(
    lot: str, reason: Annotated[str, typer.Option(help="Why it may be used.")],
    at: At = None, who: Who = None, ahead: Ahead = False,
    dry_run: DryRun = False, as_json: AsJson = False, workspace: Workspace = None,
) -> None:  # fmt: skip
    """Decide that a lot may be used although it left its storage limits."""
    write(workspace, event("released", lot, at, who, reason), dry_run, as_json, ahead)


@app.command()
def hold(
    lot: str, reason: Annotated[str, typer.Option(help="What is suspected.")],
    at: At = None, who: Who = None, ahead: Ahead = False,
    dry_run: DryRun = False, as_json: AsJson = False, workspace: Workspace = None,
) -> None:  # fmt: skip
    """Put a lot that is suspected on hold: it must not be used until it is freed."""
    write(workspace, event("held", lot, at, who, reason), dry_run, as_json, ahead)


@app.command()
def free(
    lot: str, reason: Annotated[str, typer.Option(help="Why it may be used again.")],
    at: At = None, who: Who = None, ahead: Ahead = False,
    dry_run: DryRun = False, as_json: AsJson = False, workspace: Workspace = None,
) -> None:  # fmt: skip
    """Free a lot that was on hold."""
    write(workspace, event("freed", lot, at, who, reason), dry_run, as_json, ahead)


@app.command()
def condemn(
    lot: str, reason: Annotated[str, typer.Option(help="What is wrong with it.")],
    yes: Yes = False, at: At = None, who: Who = None, ahead: Ahead = False,
    dry_run: DryRun = False, as_json: AsJson = False, workspace: Workspace = None,
) -> None:  # fmt: skip
    """Decide that a lot must never be used again."""
    if not dry_run:
        confirm(yes, f"Condemn {lot}?")
    write(workspace, event("condemned", lot, at, who, reason), dry_run, as_json, ahead)


@app.command()
def correct(
    lot: str,
    number: Annotated[int, typer.Argument(metavar="EVENT", help="The number of the event that was recorded wrongly.")],
    reason: Annotated[str, typer.Option(help="What went wrong.")],
    change: Annotated[list[str] | None, typer.Option("--set", help="FIELD=VALUE; an empty value: unknown.")] = None,
    void: Annotated[bool | None, typer.Option("--void/--not-void", help="It never happened; or it did.")] = None,
    at: At = None, who: Who = None, ahead: Ahead = False,
    dry_run: DryRun = False, as_json: AsJson = False, workspace: Workspace = None,
) -> None:  # fmt: skip
    """Correct an event by a new one that refers to it; the wrong one stays in the history."""
    from kb.stock.receiving import changes

    draft = event("corrected", lot, at, who, reason, corrects=number, void=void, change=changes(change or ()))
    write(workspace, draft, dry_run, as_json, ahead)


@app.command()
def undo(
    number: Annotated[int, typer.Argument(metavar="EVENT", help="The number of the event that never happened.")],
    reason: Reason = "recorded by mistake",
    at: At = None, who: Who = None, ahead: Ahead = False,
    dry_run: DryRun = False, as_json: AsJson = False, workspace: Workspace = None,
) -> None:  # fmt: skip
    """Take an event back: it never happened. It stays in the history, with what took it back."""
    from kb.stock.undoing import undone

    ledger = open_ledger(workspace)
    draft = undone(ledger, number, {"at": moment(at), "who": person(who), "reason": reason})
    write(workspace, draft, dry_run, as_json, ahead, ledger)
