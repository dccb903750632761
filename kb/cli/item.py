"""The command group `item`: items of the house from their data sheets, and as a file that labs can trade."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from kb.cli.common import Workspace, print_text, workspace_folder

app = typer.Typer(no_args_is_help=True, rich_markup_mode=None, help="Items of the house, from their data sheets.")


@app.command("form")
def form_of(
    item: Annotated[str, typer.Argument(help="The item of the catalog that it is like, by id or name.")],
) -> None:
    """Print a form to fill in from a data sheet, with the fields first that most rules read."""
    from kb import knowledge
    from kb.base.vocabulary import KINDS
    from kb.knowledge.sheets import form
    from kb.materials import resolve

    known = knowledge.load()
    print_text(form(resolve.item(item, known, "item form", KINDS).entry, known))


@app.command("take")
def take_in(
    file: Annotated[Path, typer.Argument(help="A filled form, or what another lab gave.")],
    again: Annotated[bool, typer.Option("--again", help="Replace an item that is there already.")] = False,
    workspace: Workspace = None,
) -> None:
    """Put every item of a file into the workspace's catalog: all, or none where one is amiss."""
    from kb.base.places import shipped
    from kb.knowledge.catalog.files import load_items
    from kb.knowledge.sheets import take

    base = {item.id: item for _, item, _ in load_items(shipped()[1])}
    taken = take(file, workspace_folder(workspace), base, again)
    print_text("".join(f"{item} is an item of the house now: `tackroom show {item}`.\n" for item in taken))


@app.command("give")
def give_out(
    items: Annotated[list[str], typer.Argument(metavar="ITEM", help="Ids of the house's items.")],
    workspace: Workspace = None,
) -> None:
    """Print items of the house as one file that another lab can take."""
    from kb.knowledge.sheets import give

    print_text(give(items, workspace_folder(workspace)))
