"""What the commands of `stock` share: the group itself, its options, and how an event is recorded and told."""

from __future__ import annotations

import datetime
import getpass
import os
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

import typer

from kb.base.errors import ACT, BadInput
from kb.cli.common import print_json, print_text, workspace_of

app = typer.Typer(no_args_is_help=True, rich_markup_mode=None, help="What is on the shelf, and what may be used.")

On = Annotated[str | None, typer.Option("--on", help="The day asked about, ISO (today, if left out).")]
At = Annotated[str | None, typer.Option("--at", help="When it happened, ISO, with a time or not (today).")]
Who = Annotated[str | None, typer.Option("--who", help="Who did it (TACKROOM_WHO, or your login name).")]
Reason = Annotated[str, typer.Option("--reason", help="Why.")]
DryRun = Annotated[bool, typer.Option("--dry-run", help="Check and show; record nothing.")]
Yes = Annotated[bool, typer.Option("--yes", help="Don't ask for confirmation.")]
Job = Annotated[str, typer.Option("--job", help="The job that it was for.")]
Part = Annotated[str, typer.Option("--part", help="The part that it went on.")]
Installation = Annotated[str, typer.Option("--installation", help="The installation on the part.")]
Within = Annotated[int | None, typer.Option("--within", min=0, max=3650, help="Days that count as soon (30).")]


def workspace_folder(given: Path | None) -> Path:
    """The workspace; without one given or named, the user's data folder (made when something is first recorded)."""
    found = workspace_of(given)
    if found is not None:
        return found
    base = os.environ.get("XDG_DATA_HOME") or (os.environ.get("LOCALAPPDATA") if os.name == "nt" else None)
    return (Path(base) if base else Path.home() / ".local" / "share") / "tackroom"


def open_store(workspace: Path | None) -> Any:
    """The workspace's store."""
    from kb.stock.log.tinystore import TinyStore

    return TinyStore(workspace_folder(workspace))


def open_items(workspace: Path | None) -> Any:
    """The catalog's items, with the workspace's own."""
    from kb.stock.items import Items

    return Items.load(workspace_of(workspace))


def moment(given: str | None, option: str = "--at") -> str:
    """Read the moment given, or the clock: the commands read it nowhere else."""
    from kb.stock.when import moment as read

    try:
        return read(datetime.date.today() if given is None else given)
    except ValueError as fault:
        raise BadInput(option, str(fault)) from None


def person(given: str | None) -> str:
    """Who records: as given, or as the environment or the login says."""
    return given or os.environ.get("TACKROOM_WHO") or getpass.getuser()


def someone_is_there() -> bool:
    """Whether a question would be read by a person."""
    return sys.stdin.isatty()


def confirm(yes: bool, question: str) -> None:
    """Ask before what can't be undone; without somebody to ask, --yes must say it."""
    if yes:
        return
    if not someone_is_there():
        raise BadInput("", f"{question} It can't be undone", "add --yes")
    if not typer.confirm(question, err=True):
        raise typer.Exit(ACT)


def write(workspace: Path | None, draft: Mapping[str, Any], dry_run: bool, as_json: bool) -> None:
    """Record one event and say so, or only show what would be recorded."""
    from kb.stock.admission import record, rehearse

    store = open_store(workspace)
    said(rehearse(store, [draft]) if dry_run else record(store, [draft]), dry_run, as_json)


def said(events: list[dict[str, Any]], dry_run: bool, as_json: bool) -> None:
    """Print events that were recorded, or would be."""
    from kb.stock.view import events_document, events_text

    if as_json:
        print_json(events_document(events, dry_run))
    else:
        print_text(("Not recorded (dry run):\n" if dry_run else "") + events_text(events))


def event(kind: str, lot: str, at: str | None, who: str | None, reason: str, **more: Any) -> dict[str, Any]:
    """An event to be recorded. The lot may be typed or scanned."""
    from kb.stock.scan import lot_named

    when = moment(at)
    mark = lot_named(lot, when[:10])
    return {"type": kind, "at": when, "who": person(who), "lot": mark, "reason": reason, **more}
