"""What the commands of `stock` share: the group itself, its options, and how an event is recorded and told."""

from __future__ import annotations

import getpass
import os
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from kb.base.errors import ACT, BadInput
from kb.cli.common import Unwritable, print_json, print_text, tell, today, workspace_folder, workspace_of
from kb.cli.manners import StockGroup

if TYPE_CHECKING:
    from kb.stock.items import Items
    from kb.stock.ledger import Ledger

app = typer.Typer(
    cls=StockGroup, no_args_is_help=True, rich_markup_mode=None, help="What is on the shelf, and what may be used."
)

On = Annotated[str | None, typer.Option("--on", help="The day asked about, ISO or 'monday' (today, if left out).")]
Known = Annotated[
    str | None, typer.Option("--known", help="By what was recorded up to this day, ISO or 'monday' (today).")
]
At = Annotated[
    str | None, typer.Option("--at", help="When it happened, ISO or 'yesterday', with a time or not (today).")
]
Ahead = Annotated[bool, typer.Option("--ahead", help="A date ahead of today is meant.")]
Who = Annotated[str | None, typer.Option("--who", help="Who did it (TACKROOM_WHO, or your login name).")]
Reason = Annotated[str, typer.Option("--reason", help="Why.")]
DryRun = Annotated[bool, typer.Option("--dry-run", help="Check and show; record nothing.")]
Yes = Annotated[bool, typer.Option("--yes", help="Don't ask for confirmation.")]
Job = Annotated[str, typer.Option("--job", help="The job that it was for.")]
Part = Annotated[str, typer.Option("--part", help="The part that it went on.")]
Installation = Annotated[str, typer.Option("--installation", help="The installation on the part.")]
Within = Annotated[int | None, typer.Option("--within", min=0, max=3650, help="Days that count as soon (30).")]
RECORDED = "it was recorded: look with `stock history`"


def open_ledger(workspace: Path | None) -> Ledger:
    """Open the workspace's ledger."""
    from kb.stock.workspace import ledger_of

    return ledger_of(workspace_folder(workspace), tell)


def open_items(workspace: Path | None, ledger: Ledger | None = None) -> Items:
    """Open the catalog's items, with the workspace's own and the values that it has confirmed, in a ledger at hand."""
    from kb.stock.items import Items
    from kb.work.known import load

    return Items.load(workspace_of(workspace), tell, lambda folder: load(folder, today(), ledger))


def moment(given: str | None, option: str = "--at", ahead: bool = False) -> str:
    """Read the moment given, or the clock, as canonical text; a day's name is the last one's, or the one `ahead`."""
    from kb.stock.when import as_said

    try:
        return today() if given is None else as_said(given, today(), past=not ahead)
    except ValueError as fault:
        raise BadInput(option, str(fault)) from None


def if_given(given: str | None, option: str, ahead: bool = False) -> str | None:
    """Read a moment that may be left out; nothing where it is."""
    return moment(given, option, ahead) if given else given


def days(on: str | None, known: str | None) -> tuple[str, str]:
    """Tell the day asked about and the day of knowledge ("": all that is known).

    With `known` alone both are that day.
    """
    by = moment(known, "--known")[:10] if known else ""
    return (moment(on, "--on", ahead=True) if on or not by else by), by


def person(given: str | None) -> str:
    """Tell who records: as given, or as the environment or the login says."""
    try:
        return given or os.environ.get("TACKROOM_WHO") or getpass.getuser()
    except (KeyError, OSError, ImportError):
        raise BadInput("--who", "it is not known who you are", "give --who, or set TACKROOM_WHO") from None


def someone_is_there() -> bool:
    """Tell whether a question would be read by a person."""
    return sys.stdin is not None and sys.stdin.isatty()


def confirm(yes: bool, question: str) -> None:
    """Ask before what can't be undone; without somebody to ask, --yes must say it."""
    if yes:
        return
    if not someone_is_there():
        raise BadInput("", f"{question} It can't be undone", "add --yes")
    if not typer.confirm(question, err=True):
        raise typer.Exit(ACT)


def meant(drafts: Sequence[Mapping[str, Any]], ahead: bool) -> bool:
    """Tell whether dates ahead of today are meant: a person is asked, without one --ahead must say it."""
    late = max((draft["at"] for draft in drafts), default="")
    if ahead or late[:10] <= today() or not someone_is_there():
        return ahead
    if not typer.confirm(f"{late} is ahead of today ({today()}). Is it meant?", err=True):
        raise typer.Exit(ACT)
    return True


def write(
    workspace: Path | None, draft: Mapping[str, Any], dry_run: bool, as_json: bool, ahead: bool,
    ledger: Ledger | None = None,
) -> None:  # fmt: skip
    """Record one event and say so, or only show what would be recorded; in the ledger that is open, if one is."""
    ledger, ahead = ledger or open_ledger(workspace), meant([draft], ahead)
    said((ledger.rehearse if dry_run else ledger.record)([draft], today(), ahead), dry_run, as_json)


def said(events: Sequence[Mapping[str, Any]], dry_run: bool, as_json: bool) -> None:
    """Print events that were recorded, or would be."""
    from kb.stock.view import events_document, events_text

    try:
        if as_json:
            print_json(events_document(events, dry_run))
        else:
            print_text(("Not recorded (dry run):\n" if dry_run else "") + events_text(events))
    except Unwritable as fault:
        raise fault if dry_run else BadInput(fault.where, fault.what, RECORDED) from None


def event(kind: str, lot: str, at: str | None, who: str | None, reason: str, **more: Any) -> dict[str, Any]:
    """Make an event to be recorded. The lot may be typed or scanned."""
    from kb.stock.scan import lot_named

    when = moment(at)
    mark = lot_named(lot, when[:10])
    return {"type": kind, "at": when, "who": person(who), "lot": mark, "reason": reason, **more}
