"""The commands of `stock` that take in or give out what isn't the ledger itself: logs, codes, products, labels."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from kb.base import disk
from kb.base.errors import ACT, BadInput
from kb.cli.common import AsJson, Workspace, print_json, print_text, today, workspace_folder
from kb.cli.files import Out, every_fault, must_end_in, put, put_page, put_table
from kb.cli.stock_common import (
    Ahead,
    At,
    DryRun,
    Known,
    On,
    Who,
    app,
    days,
    meant,
    moment,
    open_items,
    open_ledger,
    person,
)


@app.command()
def temperatures(
    file: Annotated[Path, typer.Argument(help="The logger's CSV: time and temperature_c.")],
    location: Annotated[str, typer.Option(help="Where the logger stood.")],
    picture: Annotated[Path | None, typer.Option(help="Draw the log, and what it cost, into this SVG file.")] = None,
    at: At = None, who: Who = None, ahead: Ahead = False,
    dry_run: DryRun = False, as_json: AsJson = False, workspace: Workspace = None,
) -> None:  # fmt: skip
    """Age the lots that stood beside a logger. Exit status 1 where a limit was exceeded."""
    from kb.report.pictures.shelf import log_picture
    from kb.stock.temperatures import common_limits, drafts, effects, read_log
    from kb.stock.view import effect_text, log_document

    # Before anything is recorded: a file that can't be drawn into is a slip of the hand.
    must_end_in(picture, (".svg",))
    ledger, when = open_ledger(workspace), moment(at)
    facts = open_items(workspace, ledger).facts
    with every_fault():
        log = read_log(disk.read(file), file.name)
    with ledger.looking() as look:
        shelf, wanted = look.shelf, drafts(log, location, look.shelf, look.history_of, facts, when, person(who))
        touched = {draft["lot"]: look.history_of(shelf.lots[draft["lot"]]) for draft in wanted}
    ahead = meant(wanted, ahead)
    events = (ledger.rehearse if dry_run else ledger.record)(wanted, today(), ahead)
    found = effects(shelf, lambda lot: touched[lot.lot], events, facts, when)
    if picture is not None:
        put(log_picture(log, *common_limits(found, facts), map(effect_text, found)).svg, picture, (".svg",))
    if as_json:
        print_json(log_document(log, found, dry_run))
    else:
        print_text(("Not recorded (dry run):\n" if dry_run else "") + "".join(f"{effect_text(e)}\n" for e in found))
    if any(effect.event.get("excursion") for effect in found):
        raise typer.Exit(ACT)


@app.command("warm-up")
def warm_up(
    volume_ml: Annotated[float, typer.Option(help="What the container holds, mL.")],
    cold_c: Annotated[str, typer.Option(help="Where it comes from, degC, or such as '41 degF'.")],
    air_c: Annotated[str, typer.Option(help="The room, degC, or such as '72 degF'.")],
    humidity_pct: Annotated[float, typer.Option(help="The room's relative humidity, %.")],
    as_json: AsJson = False,
) -> None:
    """Tell how long a cold container must stand in the room before it is opened."""
    from kb.stock.receiving import degrees
    from kb.stock.warmup import warm_up as work_out

    cold, air = degrees(cold_c, "--cold-c"), degrees(air_c, "--air-c")
    if cold is None or air is None:
        raise BadInput("--cold-c" if cold is None else "--air-c", "is empty", "give a temperature")
    found = work_out(volume_ml, cold, air, humidity_pct)
    if as_json:
        print_json({"schema": "tackroom.stock-warm-up/1", **found})
    else:
        print_text(
            f"Wait {found['wait_min']} min, closed: until it is above {found['open_above_c']:.1f} °C "
            f"(dew point {found['dew_point_c']:.1f} °C).\n{found['basis']}\n"
        )


@app.command()
def scan(
    code: str,
    lot: Annotated[str | None, typer.Option("--lot", help="Where the lot ends, if its separator is missing.")] = None,
    on: On = None,
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """Tell what a scanned code says. (`receive --scan`, `open`, `use` and the others take one too.)"""
    from dataclasses import asdict

    from kb.stock.products import Products
    from kb.stock.scan import read

    found = asdict(read(code, moment(on, "--on", ahead=True)[:10], lot))
    product = Products.load(workspace_folder(workspace)).by_gtin.get(found["gtin"] or "")
    found["item"] = product.item if product else None
    if as_json:
        print_json({"schema": "tackroom.stock-scan/1", **found})
    else:
        print_text("".join(f"{name}: {value or 'not said'}\n" for name, value in found.items()))


@app.command()
def link(
    gtin: Annotated[str, typer.Argument(help="The product number on the pack.")],
    item: Annotated[str, typer.Argument(help="An item's id or name.")],
    quantity: Annotated[str | None, typer.Option(help="What a pack holds.")] = None,
    unit: Annotated[str, typer.Option(help="In which unit.")] = "",
    lead_days: Annotated[int | None, typer.Option(min=0, max=3650, help="Days from order to delivery.")] = None,
    dry_run: DryRun = False,
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """Link a product number to a catalog item, in the house's table of products."""
    from kb.stock.products import Products, product_document, product_of

    products = Products.load(workspace_folder(workspace))
    product = product_of(gtin, item, quantity, unit, lead_days, open_items(workspace).resolve)
    if not dry_run:
        products.put([product])
    if as_json:
        print_json({"schema": "tackroom.stock-product/1", "dry_run": dry_run, **product_document(product)})
    else:
        print_text(f"{'Not linked (dry run): ' if dry_run else ''}{product.gtin} is {product.item}\n")


@app.command()
def products(
    file: Annotated[
        Path | None, typer.Argument(help="A table to take in: gtin, item, quantity, unit, lead_days.")
    ] = None,
    out: Out = None,
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """Give out the house's table of products, or take in one that a spreadsheet made: all rows or none."""
    from dataclasses import replace

    from kb.stock.products import Products, product_document, products_in

    known = Products.load(workspace_folder(workspace))
    if file is not None:
        items = open_items(workspace)
        with every_fault():
            brought = [replace(one, item=items.resolve(one.item)) for one in products_in(disk.read(file), file.name)]
        known.put(brought)
        known = Products.load(workspace_folder(workspace))
    if as_json:
        rows = [product_document(one) for one in known.by_gtin.values()]
        print_json({"schema": "tackroom.stock-products/1", "products": rows})
    else:
        put_table(known.table(), out, "products")


@app.command()
def labels(
    lots: Annotated[list[str] | None, typer.Argument(help="The lots; left out: all that aren't empty.")] = None,
    out: Out = None,
    on: On = None,
    server: Annotated[
        str, typer.Option(help="The address of the lab's server: a phone's camera then opens the lot.")
    ] = "",
    workspace: Workspace = None,
) -> None:
    """Make labels with a code to scan, as an HTML page to print."""
    from kb.stock.flags import judged
    from kb.stock.labels import labels_html

    ledger, day = open_ledger(workspace), moment(on, "--on", ahead=True)
    items, shelf = open_items(workspace, ledger), ledger.chosen(lots or ())
    put_page(labels_html(judged(shelf, items.facts, day), items.name, items.facts, server), out)


@app.command()
def picture(out: Out = None, on: On = None, known: Known = None, workspace: Workspace = None) -> None:
    """Draw the last days of the lots along a time line, as SVG."""
    from kb.report.pictures.shelf import expiry_picture
    from kb.stock.flags import judged

    day, by = days(on, known)
    ledger = open_ledger(workspace)
    lots = judged(ledger.shelf(day, by), open_items(workspace, ledger).facts, day)
    put(expiry_picture(lots, day).svg, out, (".svg",))
