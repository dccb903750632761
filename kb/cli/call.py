"""The command `call`: what the lab calls things."""

from __future__ import annotations

from typing import Annotated

import typer

from kb.base.errors import BadInput
from kb.cli.common import AsJson, Workspace, catalog_of_lab, print_json, print_text, workspace_folder


def call(
    words: Annotated[str | None, typer.Argument(help="What the lab says; left out: list what was taught.")] = None,
    item: Annotated[str | None, typer.Argument(help="The id of the item that is meant, or its name.")] = None,
    undo: Annotated[bool, typer.Option("--undo", help="Forget what these words mean.")] = False,
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """Teach a word of the lab's own for an item: from then on it is understood wherever items are named."""
    from kb.base.vocabulary import KINDS
    from kb.knowledge.called import call as teach
    from kb.knowledge.called import listed, uncall
    from kb.materials.identify import names_of
    from kb.materials.resolve import item as resolve

    folder = workspace_folder(workspace)
    if (words is None) != (item is None) and not (undo and item is None and words is not None):
        raise BadInput("call", "the item is missing" if item is None else "the words are missing", 'call "WORDS" ITEM')
    said = ""
    if words is not None and undo:
        said = f"'{words}' no longer means {uncall(folder, words)}."
    elif words is not None and item is not None:
        known = catalog_of_lab(workspace)
        meant = resolve(item, known, "call", KINDS).entry
        taken = {name for entry in known.entries.values() if entry.id != meant.id for name in names_of(entry)}
        before = teach(folder, words, meant.id, taken)
        said = f"'{words}' means {meant.id}" + (f" (it was {before})." if before and before != meant.id else ".")
    rows = listed(folder)
    if as_json:
        print_json({"schema": "tackroom.call/1", "words": [{"words": w, "item": i} for w, i in rows]})
    else:
        lines = [said] if said else [f"{w}: {i}" for w, i in rows] or ["No words were taught yet."]
        print_text("".join(f"{line}\n" for line in lines))
