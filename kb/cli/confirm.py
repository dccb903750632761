"""The command group `confirm`: values of the lab's own, with their source, in the place of the class's."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from kb.base.errors import BadInput
from kb.cli.common import (
    AsJson,
    Workspace,
    catalog_of_lab,
    known_by_lab,
    print_json,
    print_text,
    today,
    workspace_folder,
)
from kb.cli.stock_common import At, Who, if_given, moment, open_ledger, person

app = typer.Typer(no_args_is_help=True, rich_markup_mode=None, help="Values that the lab itself has confirmed.")


@app.command("list")
def list_facts(
    jobs: Annotated[
        list[Path] | None, typer.Argument(metavar="JOB", help="Job files whose answers are to be looked at.")
    ] = None,
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """List what jobs hang on and nobody has confirmed, most first, and what is confirmed."""
    from kb.engine.plan import Engine
    from kb.job import read_job
    from kb.planning.ask import ask
    from kb.report.confirming import confirm_json, confirm_text
    from kb.work.confirming import by_two, kept, open_facts

    engine = Engine(known_by_lab(workspace))
    asked = [ask(engine, read_job(path), str(path), 1) for path in jobs or ()]
    ledger = open_ledger(workspace)
    found = kept(ledger)
    rows = open_facts([one.hangs_on or [] for one in asked], ledger.shelf(), ledger.documents("work"))
    second = by_two(workspace_folder(workspace))
    if as_json:
        print_json(confirm_json(rows, found, today(), second))
    else:
        print_text(confirm_text(rows, found, today(), second, looked=bool(asked)))


@app.command()
def state(
    setting: Annotated[str, typer.Argument(metavar="ITEM.FIELD=VALUE", help="The fact, and what it is.")],
    sheet: Annotated[str | None, typer.Option(help="From this data sheet; with --issued.")] = None,
    certificate: Annotated[str | None, typer.Option(help="From this certificate; with --issued.")] = None,
    test: Annotated[list[float] | None, typer.Option(help="From an own test: a reading; may be repeated.")] = None,
    issued: Annotated[str | None, typer.Option(help="The day of issue of the sheet or certificate, ISO.")] = None,
    lot: Annotated[str, typer.Option(help="Of this lot alone.")] = "",
    until: Annotated[str | None, typer.Option(help="The last day on which it counts, ISO.")] = None,
    beyond: Annotated[bool, typer.Option("--beyond", help="It does lie outside of what its class spreads.")] = False,
    at: At = None,
    who: Who = None,
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """State a value with its source: it counts in place of the class's, once two have seen it where that is asked."""
    from kb.work.confirming import stated

    given = {"data-sheet": sheet, "certificate": certificate, "own-test": test or None}
    kinds = [name for name, value in given.items() if value is not None]
    if len(kinds) != 1:
        said = "says not what it rests on" if not kinds else f"rests on {' and '.join(kinds)}"
        raise BadInput("confirm state", said, "give one of --sheet NAME, --certificate NAME, --test READING")
    event = stated(catalog_of_lab(workspace), setting, beyond)
    event |= {
        "kind": kinds[0],
        "reference": sheet or certificate or "",
        "lot": lot,
        "at": moment(at),
        "who": person(who),
    }
    event |= {"readings": test or [], "issued": if_given(issued, "--issued")}
    event["until"] = if_given(until, "--until", ahead=True)
    _record(workspace, {name: value for name, value in event.items() if value is not None}, as_json)


@app.command()
def seen(
    event: Annotated[int, typer.Argument(help="The number of the event that states the value.")],
    at: At = None,
    who: Who = None,
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """Say that a second person has seen a value in its source."""
    _record(workspace, {"type": "seen", "of": event, "fact": "?", "at": moment(at), "who": person(who)}, as_json)


@app.command()
def undo(
    event: Annotated[int, typer.Argument(help="The number of the event.")],
    reason: Annotated[str, typer.Option("--reason", help="Why.")],
    at: At = None,
    who: Who = None,
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """Take an event back; one that takes back, too."""
    said = {"type": "undone", "of": event, "reason": reason, "fact": "?", "at": moment(at), "who": person(who)}
    _record(workspace, said, as_json)


@app.command()
def reissued(
    item: Annotated[str, typer.Argument(help="The item, by id or name.")],
    issued: Annotated[str, typer.Option(help="The day of issue of its newer sheet, ISO.")],
    at: At = None,
    who: Who = None,
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """Say that an item has a newer sheet: values from an older one no longer count."""
    from kb.base.vocabulary import KINDS
    from kb.materials import resolve

    entry = resolve.item(item, catalog_of_lab(workspace), "confirm reissued", KINDS).entry
    said = {
        "type": "reissued",
        "fact": entry.id,
        "issued": moment(issued, "--issued"),
        "at": moment(at),
        "who": person(who),
    }
    _record(workspace, said, as_json)


@app.command("by-two")
def by_two_people(
    wanted: Annotated[str, typer.Argument(metavar="yes|no", help="Whether a second person must have seen a value.")],
    workspace: Workspace = None,
) -> None:
    """Ask, or no longer ask, that a second person has seen a value before it counts."""
    from kb.work.confirming import ask_two

    if wanted not in ("yes", "no"):
        raise BadInput("confirm by-two", f"'{wanted}' is neither yes nor no", "for instance: confirm by-two yes")
    ask_two(workspace_folder(workspace), wanted == "yes")
    print_text("A value counts once a second person has seen it.\n" if wanted == "yes" else "One person is enough.\n")


def _record(workspace: Path | None, said: dict[str, Any], as_json: bool) -> None:
    from kb.work.confirming import record

    body = record(open_ledger(workspace), said, today())
    if as_json:
        print_json({"schema": "tackroom.confirm/1", "event": body})
    else:
        print_text(f"Event {body['id']}: {body['type']} {body['fact']}.\n")
