"""The commands of `stock` that record what happens to a lot: one event each."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from pathlib import Path
from typing import Annotated, Any

import typer

from kb.cli.common import AsJson, Workspace, tell, today, workspace_folder
from kb.cli.stock_common import (
    Ahead,
    At,
    DryRun,
    Installation,
    Job,
    Part,
    Reason,
    Who,
    app,
    event,
    if_given,
    meant,
    moment,
    open_items,
    open_ledger,
    write,
)
from kb.stock.amounts import convert, text
from kb.stock.lots import Lot
from kb.stock.shelf_life import kept_outside, life

#: What stands warmer was never frozen [degC].
FREEZING_C = 0.0
Degrees = Annotated[str | None, typer.Option("--storage-c", help="The temperature there, degC, or such as '41 degF'.")]


@app.command()
def receive(
    item: Annotated[str | None, typer.Argument(help="An item's id or name.")] = None,
    lot: Annotated[str | None, typer.Argument(help="The lot, as its label will say.")] = None,
    quantity: Annotated[str | None, typer.Argument()] = None,
    unit: Annotated[str | None, typer.Argument(help="One that converts to the item's: mL, g, cm, cm2, pcs, …")] = None,
    scan: Annotated[str | None, typer.Option("--scan", help="The pack's GS1 code; it fills in what it holds.")] = None,
    scanned_lot: Annotated[str | None, typer.Option("--lot", help="With --scan: where the lot ends.")] = None,
    batch: Annotated[str, typer.Option("--batch", help="The maker's lot, where this is one container of it.")] = "",
    received: Annotated[str | None, typer.Option(help="The day it came, if it isn't that of --at.")] = None,
    made: Annotated[str | None, typer.Option(help="The day it was made, ISO or 'monday'.")] = None,
    expires: Annotated[str | None, typer.Option(help="The last day on the container, ISO.")] = None,
    storage_c: Degrees = None,
    location: Annotated[str, typer.Option(help="Where it stands.")] = "",
    at: At = None, who: Who = None, reason: Reason = "", ahead: Ahead = False,
    dry_run: DryRun = False, as_json: AsJson = False, workspace: Workspace = None,
) -> None:  # fmt: skip
    """Record a container that came in: ITEM LOT QUANTITY UNIT, or --scan and what the code doesn't hold."""
    from kb.stock.products import Products
    from kb.stock.receiving import degrees, receipt
    from kb.stock.scan import read

    when = moment(at)
    code = read(scan, when[:10], scanned_lot) if scan is not None else None
    given = event("received", lot or "", when, who, reason, item=item, quantity=quantity, unit=unit)
    given |= {"made": if_given(made, "--made"), "received": if_given(received, "--received") or when[:10]}
    given |= {"expires": if_given(expires, "--expires", ahead=True), "location": location, "batch": batch}
    given |= {"storage_c": degrees(storage_c, "--storage-c")}
    ledger = open_ledger(workspace)
    items = open_items(workspace, ledger)
    draft = receipt(given, code, Products.load(workspace_folder(workspace)), items)
    write(workspace, draft, dry_run, as_json, ahead, ledger)
    _tell_heat(draft["lot"], draft.get("storage_c"), items.facts(draft["item"]), dry_run)
    if (last := draft.get("expires")) and last < when[:10]:
        tell(f"{draft['lot']}: its last day, {last}, has passed: it must not be used. See `stock flag`.")


@app.command("open")
def open_lot(
    lot: str, at: At = None, who: Who = None, reason: Reason = "", ahead: Ahead = False,
    dry_run: DryRun = False, as_json: AsJson = False, workspace: Workspace = None,
) -> None:  # fmt: skip
    """Record that a container was opened: its opened life begins."""
    _begin(event("opened", lot, at, who, reason), dry_run, as_json, ahead, workspace)


@app.command()
def thaw(
    lot: str, at: At = None, who: Who = None, reason: Reason = "", ahead: Ahead = False,
    dry_run: DryRun = False, as_json: AsJson = False, workspace: Workspace = None,
) -> None:  # fmt: skip
    """Record that a frozen lot was thawed. Give the time with --at: without one, the day counts from its start."""
    draft = event("thawed", lot, at, who, reason)
    stood_c = _begin(draft, dry_run, as_json, ahead, workspace).storage_c
    if stood_c is not None and stood_c > FREEZING_C:
        tell(f"{draft['lot']}: it stood at {stood_c:g} degC, not frozen; if it wasn't thawed, {_mend(dry_run)}")


@app.command()
def mix(
    lot: str, at: At = None, who: Who = None, reason: Reason = "", ahead: Ahead = False,
    dry_run: DryRun = False, as_json: AsJson = False, workspace: Workspace = None,
) -> None:  # fmt: skip
    """Record that all that is left of a lot was mixed (a mix of part of it is a use). Give the time with --at."""
    _begin(event("mixed", lot, at, who, reason), dry_run, as_json, ahead, workspace)


def _begin(draft: Mapping[str, Any], dry_run: bool, as_json: bool, ahead: bool, workspace: Path | None) -> Lot:
    """Record that work on a lot begins, and say where it must not be used; give the lot as it was."""
    ledger = open_ledger(workspace)
    lot = ledger.lot(draft["lot"], draft["at"])
    found = life(lot, open_items(workspace, ledger).facts(lot.item), draft["at"])
    write(workspace, draft, dry_run, as_json, ahead, ledger)
    if found.barred:
        tell(f"{draft['lot']}: {found.state}: {found.reason}: it must not be used. See `stock flag`.")
    return lot


@app.command()
def use(
    lot: str,
    quantity: str,
    unit: str,
    job: Job = "",
    part: Part = "",
    installation: Installation = "",
    anyway: Annotated[bool, typer.Option("--anyway", help="Although it must not be used; needs a --reason.")] = False,
    at: At = None, who: Who = None, reason: Reason = "", ahead: Ahead = False,
    dry_run: DryRun = False, as_json: AsJson = False, workspace: Workspace = None,
) -> None:  # fmt: skip
    """Record a use. Exit status 1, and nothing recorded, where the lot must not be used."""
    from kb.stock.receiving import in_its_unit, may_use

    draft = event("used", lot, at, who, reason, quantity=quantity, unit=unit, job=job, part=part)
    draft["installation"] = installation
    ledger = open_ledger(workspace)
    items = open_items(workspace, ledger)
    draft = in_its_unit(ledger.lot(draft["lot"]), draft, items)
    ahead = meant([draft], ahead)
    may_use(ledger, draft, items.facts, anyway, today(), ahead)
    write(workspace, draft, dry_run, as_json, ahead, ledger)


@app.command()
def move(
    lot: str, location: str, storage_c: Degrees = None,
    at: At = None, who: Who = None, reason: Reason = "", ahead: Ahead = False,
    dry_run: DryRun = False, as_json: AsJson = False, workspace: Workspace = None,
) -> None:  # fmt: skip
    """Record that a lot stands somewhere else now."""
    from kb.stock.receiving import degrees

    there = degrees(storage_c, "--storage-c")
    draft, ledger = event("moved", lot, at, who, reason, location=location, storage_c=there), open_ledger(workspace)
    write(workspace, draft, dry_run, as_json, ahead, ledger)
    _tell_heat(draft["lot"], there, open_items(workspace, ledger).facts(ledger.lot(draft["lot"]).item), dry_run)


def _mend(dry_run: bool) -> str:
    """Say what to do about what looks like a slip: nothing is recorded of a rehearsal."""
    return "put it right before it is recorded" if dry_run else "`stock undo`"


def _tell_heat(lot: str, storage_c: float | None, facts: Mapping[str, Any], dry_run: bool) -> None:
    """Say where a lot stands warmer or colder than its item is kept."""
    if outside := kept_outside(storage_c, facts):
        tell(f"{lot}: {outside}: `stock flag` sets it apart; if it is a slip, {_mend(dry_run)}")


@app.command()
def count(
    lot: str, quantity: str, unit: str, at: At = None, who: Who = None, reason: Reason = "", ahead: Ahead = False,
    dry_run: DryRun = False, as_json: AsJson = False, workspace: Workspace = None,
) -> None:  # fmt: skip
    """Record what was found by counting or weighing: it replaces what the book says."""
    from kb.stock.receiving import in_its_unit

    draft = event("counted", lot, at, who, reason, quantity=quantity, unit=unit)
    ledger = open_ledger(workspace)
    booked = ledger.lot(draft["lot"])
    draft = in_its_unit(booked, draft, open_items(workspace, ledger))
    write(workspace, draft, dry_run, as_json, ahead, ledger)
    if (found := convert(Decimal(draft["quantity"]), draft["unit"], booked.unit)) > booked.quantity:
        said = f"{text(found)} {booked.unit} is more than the book's {text(booked.quantity)} {booked.unit}"
        tell(f"{draft['lot']}: {said}, and a lot doesn't grow: if it is a slip, {_mend(dry_run)}")


@app.command()
def dispose(
    lot: str, at: At = None, who: Who = None, reason: Reason = "", ahead: Ahead = False,
    dry_run: DryRun = False, as_json: AsJson = False, workspace: Workspace = None,
) -> None:  # fmt: skip
    """Record that what was left of a lot was thrown away."""
    write(workspace, event("disposed", lot, at, who, reason), dry_run, as_json, ahead)


@app.command()
def rename(
    lot: str, new: Annotated[str, typer.Argument(help="What it is really called.")],
    at: At = None, who: Who = None, reason: Reason = "", ahead: Ahead = False,
    dry_run: DryRun = False, as_json: AsJson = False, workspace: Workspace = None,
) -> None:  # fmt: skip
    """Give a lot its right name, where it was recorded under a wrong one."""
    write(workspace, event("renamed", lot, at, who, reason, to=new), dry_run, as_json, ahead)
