"""The commands of `stock` that take files in or give them out: lists, histories, logs, labels, pictures."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, Literal

import typer

from kb.base.errors import ACT, BAD_INPUT, BadInput
from kb.cli.common import AsJson, Workspace, print_json, print_text
from kb.cli.stock_common import At, DryRun, On, Who, app, moment, open_items, open_store, person, said, workspace_folder

Out = Annotated[Path | None, typer.Option("--out", help="The file to write; left out: standard output.")]


def content_of(path: Path) -> bytes:
    """The bytes of a file that the user names."""
    try:
        return path.read_bytes()
    except OSError as error:
        raise BadInput(str(path), (error.strerror or "can't be read").lower(), "check the name") from None


def put(text: str, out: Path | None) -> None:
    """Text to a file, or to standard output."""
    if out is None:
        print_text(text)
        return
    try:
        # As it is: a table has its own line ends.
        out.write_bytes(text.encode())
    except OSError as error:
        raise BadInput(str(out), (error.strerror or "can't be written").lower(), "name another file") from None


@contextmanager
def every_fault() -> Iterator[None]:
    """Tell each fault of a file on a line of its own."""
    from kb.stock.tables import Faults

    try:
        yield
    except Faults as faults:
        for fault in faults.each:
            print(fault, file=sys.stderr)
        raise typer.Exit(BAD_INPUT) from None


@app.command("import")
def import_file(
    file: Annotated[Path, typer.Argument(help="A shelf list (CSV), or a history (CSV or JSON) as exported.")],
    at: At = None,
    who: Who = None,
    dry_run: DryRun = False,
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """Take in a shelf list or a history: all rows or none."""
    from kb.stock.interchange import drafts_in, take_in

    with every_fault():
        drafts = drafts_in(content_of(file), file.name, open_items(workspace).resolve, moment(at), person(who))
        events = take_in(open_store(workspace), drafts, file.name, write=not dry_run)
    said(events, dry_run, as_json)


@app.command()
def export(
    form: Annotated[Literal["csv", "json"], typer.Option("--format", help="csv or json.")] = "json",
    shelf: Annotated[bool, typer.Option("--shelf", help="The lots as they stand (CSV), without the history.")] = False,
    out: Out = None,
    workspace: Workspace = None,
) -> None:
    """Give out the whole history, which imports back to the same; or the shelf as a list."""
    import json

    from kb.stock.interchange import history_csv, history_json, shelf_csv
    from kb.stock.shelf import shelf_of

    store = open_store(workspace)
    if shelf:
        put(shelf_csv(shelf_of(store).lots.values()), out)
    elif form == "csv":
        put(history_csv(store.events()), out)
    else:
        put(json.dumps(history_json(store.events()), ensure_ascii=False, indent=1) + "\n", out)


@app.command()
def temperatures(
    file: Annotated[Path, typer.Argument(help="The logger's CSV: time and temperature_c.")],
    location: Annotated[str, typer.Option(help="Where the logger stood.")],
    picture: Annotated[Path | None, typer.Option(help="Draw the log, and what it cost, into this SVG file.")] = None,
    at: At = None,
    who: Who = None,
    dry_run: DryRun = False,
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """Age the lots that stood beside a logger. Exit status 1 where a limit was exceeded."""
    from kb.stock.admission import record, rehearse
    from kb.stock.picture import temperature_picture
    from kb.stock.shelf import shelf_of
    from kb.stock.temperatures import common_limits, drafts, effects, read_log
    from kb.stock.view import effect_text, log_document

    store, facts, when = open_store(workspace), open_items(workspace).facts, moment(at)
    with every_fault():
        log = read_log(content_of(file), file.name)
    shelf = shelf_of(store)
    wanted = drafts(log, location, shelf, facts, when, person(who))
    events = rehearse(store, wanted) if dry_run else record(store, wanted)
    found = effects(shelf, events, facts, when)
    if picture is not None:
        put(temperature_picture(log, *common_limits(found, facts), map(effect_text, found)), picture)
    if as_json:
        print_json(log_document(log, found, dry_run))
    else:
        print_text(("Not recorded (dry run):\n" if dry_run else "") + "".join(f"{effect_text(e)}\n" for e in found))
    if any(effect.event.get("excursion") for effect in found):
        raise typer.Exit(ACT)


@app.command("warm-up")
def warm_up(
    volume_ml: Annotated[float, typer.Option(help="What the container holds, mL.")],
    cold_c: Annotated[float, typer.Option(help="Where it comes from, degC.")],
    air_c: Annotated[float, typer.Option(help="The room, degC.")],
    humidity_pct: Annotated[float, typer.Option(help="The room's relative humidity, %.")],
    as_json: AsJson = False,
) -> None:
    """Tell how long a cold container must stand in the room before it is opened."""
    from kb.stock.warmup import warm_up as work_out

    found = work_out(volume_ml, cold_c, air_c, humidity_pct)
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

    found = asdict(read(code, moment(on, "--on")[:10], lot))
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
    """Link a product number to a catalog item, in the house's table of products (products.csv)."""
    from kb.stock.products import Products, product_document, product_of

    products = Products.load(workspace_folder(workspace))
    product = product_of(gtin, item, quantity, unit, lead_days, open_items(workspace).resolve)
    if not dry_run:
        products.with_product(product).save()
    if as_json:
        print_json({"schema": "tackroom.stock-product/1", "dry_run": dry_run, **product_document(product)})
    else:
        print_text(f"{'Not linked (dry run): ' if dry_run else ''}{product.gtin} is {product.item}\n")


@app.command()
def labels(
    lots: Annotated[list[str] | None, typer.Argument(help="The lots; left out: all that aren't empty.")] = None,
    out: Out = None,
    on: On = None,
    workspace: Workspace = None,
) -> None:
    """Make labels with a code to scan, as an HTML page to print."""
    from kb.stock.flags import judged
    from kb.stock.labels import labels_html
    from kb.stock.shelf import chosen

    items = open_items(workspace)
    shelf = chosen(open_store(workspace), lots or ())
    put(labels_html(judged(shelf, items.facts, moment(on, "--on")), items.name, items.facts), out)


@app.command()
def picture(out: Out = None, on: On = None, workspace: Workspace = None) -> None:
    """Draw the last days of the lots along a time line, as SVG."""
    from kb.stock.flags import judged
    from kb.stock.picture import expiry_picture
    from kb.stock.shelf import shelf_of

    day = moment(on, "--on")
    put(expiry_picture(judged(shelf_of(open_store(workspace)), open_items(workspace).facts, day), day), out)
