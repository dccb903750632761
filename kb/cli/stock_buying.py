"""The commands of `stock` about buying: what the lab orders of an item, at which price, and how much is to be there."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from kb.base import disk
from kb.base.errors import BadInput
from kb.cli.common import AsJson, Workspace, print_json, print_text, workspace_folder
from kb.cli.files import Out, every_fault, put_table
from kb.cli.stock_common import DryRun, app, open_items


@app.command()
def supply(
    item: Annotated[str, typer.Argument(help="An item's id or name.")],
    pack: Annotated[str | None, typer.Option(help="What a pack holds.")] = None,
    unit: Annotated[str | None, typer.Option(help="In which unit, of pack and minimum.")] = None,
    price: Annotated[str | None, typer.Option(help="What a pack costs, in the lab's currency.")] = None,
    lead_days: Annotated[int | None, typer.Option(min=0, max=3650, help="Days from order to delivery.")] = None,
    minimum: Annotated[str | None, typer.Option(help="The least that is to be there.")] = None,
    forget: Annotated[bool, typer.Option("--forget", help="Forget all that was said of the item.")] = False,
    dry_run: DryRun = False,
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """Say how the lab buys an item: pack, price, delivery, minimum. What isn't said stays; without any, it is shown."""
    from kb.stock.supplies import Supplies, Supply, no_currency, supply_document, supply_of, supply_text

    known, items = Supplies.load(workspace_folder(workspace)), open_items(workspace)
    named = items.resolve(item)
    days = None if lead_days is None else str(lead_days)
    said = {"pack": pack, "unit": unit, "price": price, "lead_days": days, "minimum": minimum}
    given = any(value is not None for value in said.values())
    if forget and given:
        raise BadInput("--forget", "something is to be kept as well", "leave one of them out")
    if price is not None and not known.currency:
        raise no_currency("--price")
    before = known.by_item.get(named, Supply(named))
    now = Supply(named) if forget else supply_of(said, before, items.amount)
    if forget and named not in known.by_item:
        raise BadInput(named, "nothing is known of how it is bought", "see `stock supplies`")
    if not dry_run and (given or forget):
        known.forget(named) if forget else known.put([now])
    if as_json:
        head = {"schema": "tackroom.stock-supply/1", "dry_run": dry_run, "currency": known.currency or None}
        print_json({**head, **supply_document(now)})
    else:
        print_text(f"{'Not kept (dry run): ' if dry_run else ''}{supply_text(now, known.currency)}\n")


@app.command()
def supplies(
    file: Annotated[
        Path | None, typer.Argument(help="A table to take in: item, pack, unit, price, lead_days, minimum.")
    ] = None,
    currency: Annotated[str | None, typer.Option(help="The currency of all prices, such as EUR.")] = None,
    out: Out = None,
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """Give out how the lab buys its items, or take in a table that a spreadsheet made: all rows or none."""
    from kb.stock.supplies import Supplies, supplies_in, supply_document

    folder = workspace_folder(workspace)
    known = Supplies.load(folder)
    if file is not None:
        items = open_items(workspace)
        priced = bool(currency or known.currency)
        with every_fault():
            known.put(supplies_in(disk.read(file), file.name, items.resolve, items.amount, priced))
    if currency is not None:
        known.set_currency(currency)
    known = Supplies.load(folder)
    if as_json:
        rows = [supply_document(one) for one in known.by_item.values()]
        print_json({"schema": "tackroom.stock-supplies/1", "currency": known.currency or None, "supplies": rows})
    elif out is None and currency is not None and file is None:
        print_text(f"Prices are in {known.currency}.\n")
    else:
        put_table(known.table(), out, "supplies")
