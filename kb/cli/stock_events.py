"""The commands of `stock` that record what happens to a lot: one event each."""

from __future__ import annotations

from typing import Annotated

import typer

from kb.cli.common import AsJson, Workspace
from kb.cli.stock_common import (
    At,
    DryRun,
    Installation,
    Job,
    Part,
    Reason,
    Who,
    Yes,
    app,
    confirm,
    event,
    moment,
    open_items,
    open_store,
    workspace_folder,
    write,
)


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
    from kb.stock.products import Products
    from kb.stock.scan import read
    from kb.work.desk import receipt

    when = moment(at)
    code = read(scan, when[:10], scanned_lot) if scan is not None else None
    given = event("received", lot or "", when, who, reason, item=item, quantity=quantity, unit=unit, made=made)
    given |= {"received": received or when[:10], "expires": expires, "storage_c": storage_c, "location": location}
    draft = receipt(given, code, Products.load(workspace_folder(workspace)), open_items(workspace).resolve)
    write(workspace, draft, dry_run, as_json)


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
    from kb.work.desk import may_use

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
    from kb.work.desk import changes

    draft = event("corrected", lot, at, who, reason, corrects=number, void=void, change=changes(change or ()))
    write(workspace, draft, dry_run, as_json)
