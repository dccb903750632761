"""Items and sources from their files; not on the path of an ordinary plan, which takes the compiled knowledge."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from kb.base.errors import BadInput, nearest
from kb.base.files import read_toml, toml_files, validated
from kb.knowledge.catalog import MODELS, Item, Source
from kb.rules.clauses import Value


def load_items(folder: Path, base: dict[str, Item] | None = None) -> Iterator[tuple[str, Item, Path]]:
    """Load every item below `folder` (`KIND/ID.toml`) as (kind, item, path), in a stable order.

    `base` holds the catalog that a house item's `like` may refer to; its faults name the whole path.
    """
    for kind in MODELS:
        for path in toml_files(folder / kind):
            shown = str(path) if base else f"{folder.name}/{path.relative_to(folder)}"
            item = load_item(kind, read_toml(path, shown), shown, base or {})
            if item.id != path.stem:
                raise BadInput(shown, f"id: '{item.id}' is not the file's name", f"rename one of them to '{item.id}'")
            yield kind, item, path


def load_item(kind: str, data: dict[str, Value], where: str, base: dict[str, Item]) -> Item:
    """Load one item of `kind` from its table; `like` takes over the fields that the table doesn't give."""
    like = data.get("like")
    if isinstance(like, str):
        if like not in base or not isinstance(base[like], MODELS[kind]):
            mend = nearest(like, [i for i, item in base.items() if isinstance(item, MODELS[kind])])
            raise BadInput(where, f"like: there is no {kind} '{like}' in the catalog", mend or f"see `list {kind}`")
        taken = base[like].model_dump(mode="json", exclude_none=True, exclude={"aliases", "house", "like"})
        # What the house states itself rules: the class's range of that value no longer applies.
        spread = {name: span for name, span in taken.pop("ranges", {}).items() if name not in data}
        data = {**taken, "ranges": spread, **data}
    return validated(MODELS[kind], data, where)


def load_sources(path: Path) -> dict[str, Source]:
    """Load the works that statements cite, by id."""
    shown = f"{path.parent.name}/{path.name}"
    sources: dict[str, Source] = {}
    for number, entry in enumerate(read_toml(path, shown).get("sources", []), start=1):
        source = validated(Source, entry, f"{shown}: source {number}")
        if source.id in sources:
            raise BadInput(shown, f"source '{source.id}' stands there twice", "keep one of them")
        sources[source.id] = source
    return sources
