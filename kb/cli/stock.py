"""The commands of `stock` that look at the shelf and that record what happens to a lot.

Those that read or write files are in `stock_files`.
"""

from __future__ import annotations

import datetime
import getpass
import os
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

import typer

from kb.cli.common import AsJson, Workspace, print_json, print_text, workspace_of
from kb.errors import ACT, STORE, BadInput

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
    from kb.stock.tinystore import TinyStore

    return TinyStore(workspace_folder(workspace))


def open_items(workspace: Path | None) -> Any:
    """The catalog's items, with the workspace's own."""
    from kb.stock.items import Items

    return Items.load(workspace_of(workspace))


def moment(given: str | None, option: str = "--at") -> str:
    """The moment given, or today: the one place where the clock is read."""
    from kb.stock.when import moment as read

    try:
        return read(datetime.date.today() if given is None else given)
    except ValueError as fault:
        raise BadInput(option, str(fault)) from None


def person(given: str | None) -> str:
    """Who records: as given, or as the environment or the login says."""
    return given or os.environ.get("TACKROOM_WHO") or getpass.getuser()


def confirm(yes: bool, question: str) -> None:
    """Ask before what can't be undone; without somebody to ask, --yes must say it."""
    if yes:
        return
    if not sys.stdin.isatty():
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


# -- looking


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

    day = moment(on, "--on")
    planned = planned_needs(job, workspace) if job is not None else None
    leads = Products.load(workspace_folder(workspace)).lead_days
    found = flags(shelf_of(open_store(workspace)), open_items(workspace).facts, day, within, leads, planned)
    if as_json:
        print_json(flags_document(found))
    else:
        print_text(flags_text(found))
    if found.barred:
        raise typer.Exit(ACT)


def planned_needs(path: Path, workspace: Path | None) -> tuple[str, frozenset[str]]:
    """The day of a job, and the items of its first chain."""
    from kb import knowledge, resolve
    from kb.engine.plan import Engine
    from kb.job import read_job

    job = read_job(path)
    if job.job.planned_on is None:
        raise BadInput(f"{path}: job.planned_on", "is missing", "give the day of the job")
    known = knowledge.load(workspace_of(workspace))
    part = resolve.substrate(job.part.substrate, known, f"{path}: part.substrate")
    chains = Engine(known).plan(job, part.entry, 1, None).chains
    items = frozenset(pick.entry.id for chain in chains for pick in chain.picks if pick.entry is not None)
    return job.job.planned_on.isoformat(), items


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
    """Check every byte, event and sum of what is stored. Exit status 4 where anything is wrong."""
    from kb.stock.view import report_document, report_text

    report = open_store(workspace).verify()
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


# -- recording


@app.command()
def receive(
    item: Annotated[str | None, typer.Argument(help="An item's id or name.")] = None,
    lot: Annotated[str | None, typer.Argument(help="The lot, as its label will say.")] = None,
    quantity: Annotated[str | None, typer.Argument()] = None,
    unit: Annotated[str | None, typer.Argument()] = None,
    scan: Annotated[str | None, typer.Option("--scan", help="The pack's GS1 code; it fills in what it holds.")] = None,
    scanned_lot: Annotated[str | None, typer.Option("--lot", help="With --scan: where the lot ends.")] = None,
    received: Annotated[str | None, typer.Option(help="The day it came, if it isn't that of --at.")] = None,
    made: Annotated[str | None, typer.Option(help="The day it was made, ISO.")] = None,
    expires: Annotated[str | None, typer.Option(help="The last day on the container, ISO.")] = None,
    storage_c: Annotated[float | None, typer.Option(help="The temperature where it stands, degC.")] = None,
    location: Annotated[str, typer.Option(help="Where it stands.")] = "",
    at: At = None, who: Who = None, reason: Reason = "",
    dry_run: DryRun = False, as_json: AsJson = False, workspace: Workspace = None,
) -> None:  # fmt: skip
    """Record a container that came in: ITEM LOT QUANTITY UNIT, or --scan and what the code doesn't hold."""
    from kb.stock.desk import receipt
    from kb.stock.products import Products
    from kb.stock.scan import read

    when = moment(at)
    code = read(scan, when[:10], scanned_lot) if scan is not None else None
    given = event("received", lot or "", when, who, reason, item=item, quantity=quantity, unit=unit, made=made)
    given |= {"received": received or when[:10], "expires": expires, "storage_c": storage_c, "location": location}
    draft = receipt(given, code, Products.load(workspace_folder(workspace)), open_items(workspace).resolve)
    write(workspace, draft, dry_run, as_json)


def event(kind: str, lot: str, at: str | None, who: str | None, reason: str, **more: Any) -> dict[str, Any]:
    """An event to be recorded. The lot may be typed or scanned."""
    from kb.stock.scan import lot_named

    when = moment(at)
    mark = lot_named(lot, when[:10])
    return {"type": kind, "at": when, "who": person(who), "lot": mark, "reason": reason, **more}


@app.command("open")
def open_lot(
    lot: str, at: At = None, who: Who = None, reason: Reason = "",
    dry_run: DryRun = False, as_json: AsJson = False, workspace: Workspace = None,
) -> None:  # fmt: skip
    """Record that a container was opened: its opened life begins."""
    write(workspace, event("opened", lot, at, who, reason), dry_run, as_json)


@app.command()
def thaw(
    lot: str, at: At = None, who: Who = None, reason: Reason = "",
    dry_run: DryRun = False, as_json: AsJson = False, workspace: Workspace = None,
) -> None:  # fmt: skip
    """Record that a frozen lot was thawed. Give the time with --at: without one, the day counts from its start."""
    write(workspace, event("thawed", lot, at, who, reason), dry_run, as_json)


@app.command()
def mix(
    lot: str, at: At = None, who: Who = None, reason: Reason = "",
    dry_run: DryRun = False, as_json: AsJson = False, workspace: Workspace = None,
) -> None:  # fmt: skip
    """Record that all that is left of a lot was mixed (a mix of part of it is a use). Give the time with --at."""
    write(workspace, event("mixed", lot, at, who, reason), dry_run, as_json)


@app.command()
def use(
    lot: str,
    quantity: str,
    unit: str,
    job: Job = "",
    part: Part = "",
    installation: Installation = "",
    anyway: Annotated[bool, typer.Option("--anyway", help="Although it must not be used; needs a --reason.")] = False,
    at: At = None,
    who: Who = None,
    reason: Reason = "",
    dry_run: DryRun = False,
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """Record a use. Exit status 1, and nothing recorded, where the lot must not be used."""
    from kb.stock.desk import may_use

    draft = event("used", lot, at, who, reason, quantity=quantity, unit=unit, job=job, part=part)
    draft["installation"] = installation
    may_use(open_store(workspace), draft, open_items(workspace).facts, anyway)
    write(workspace, draft, dry_run, as_json)


@app.command()
def move(
    lot: str,
    location: str,
    storage_c: Annotated[float | None, typer.Option(help="The temperature there, degC.")] = None,
    at: At = None,
    who: Who = None,
    reason: Reason = "",
    dry_run: DryRun = False,
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """Record that a lot stands somewhere else now."""
    draft = event("moved", lot, at, who, reason, location=location, storage_c=storage_c)
    write(workspace, draft, dry_run, as_json)


@app.command()
def count(
    lot: str, quantity: str, unit: str, at: At = None, who: Who = None, reason: Reason = "",
    dry_run: DryRun = False, as_json: AsJson = False, workspace: Workspace = None,
) -> None:  # fmt: skip
    """Record what was found by counting or weighing: it replaces what the book says. 0 is how a lot is disposed of."""
    write(workspace, event("counted", lot, at, who, reason, quantity=quantity, unit=unit), dry_run, as_json)


@app.command()
def requalify(
    lot: str,
    until: Annotated[str, typer.Option(help="The new last day, ISO.")],
    test: Annotated[str, typer.Option(help="The recorded test.")],
    reason: Annotated[str, typer.Option(help="Why it is good.")],
    at: At = None,
    who: Who = None,
    dry_run: DryRun = False,
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """Record a test that gives a lot, as it stands, a new last day."""
    write(workspace, event("requalified", lot, at, who, reason, until=until, test=test), dry_run, as_json)


@app.command()
def release(
    lot: str,
    reason: Annotated[str, typer.Option(help="Why it may be used.")],
    at: At = None, who: Who = None, dry_run: DryRun = False, as_json: AsJson = False, workspace: Workspace = None,
) -> None:  # fmt: skip
    """Decide that a lot may be used although it left its storage limits."""
    write(workspace, event("released", lot, at, who, reason), dry_run, as_json)


@app.command()
def condemn(
    lot: str,
    reason: Annotated[str, typer.Option(help="What is wrong with it.")],
    yes: Yes = False, at: At = None, who: Who = None,
    dry_run: DryRun = False, as_json: AsJson = False, workspace: Workspace = None,
) -> None:  # fmt: skip
    """Decide that a lot must never be used again."""
    if not dry_run:
        confirm(yes, f"Condemn {lot}?")
    write(workspace, event("condemned", lot, at, who, reason), dry_run, as_json)


@app.command()
def correct(
    lot: str,
    number: Annotated[int, typer.Argument(metavar="EVENT", help="The number of the event that was recorded wrongly.")],
    reason: Annotated[str, typer.Option(help="What went wrong.")],
    change: Annotated[list[str] | None, typer.Option("--set", help="FIELD=VALUE; an empty value: unknown.")] = None,
    void: Annotated[bool | None, typer.Option("--void/--not-void", help="It never happened; or it did.")] = None,
    at: At = None, who: Who = None, dry_run: DryRun = False, as_json: AsJson = False, workspace: Workspace = None,
) -> None:  # fmt: skip
    """Correct an event by a new one that refers to it; the wrong one stays in the history."""
    from kb.stock.desk import changes

    draft = event("corrected", lot, at, who, reason, corrects=number, void=void, change=changes(change or ()))
    write(workspace, draft, dry_run, as_json)
