"""A house item from its data sheet: a form to fill in, with what decides first, and one file that labs can trade.

The file holds `[[items]]`, each with its `kind` and, in `like`, the class that it is a member of: what the sheet
doesn't say, holds as the class has it.
"""

from __future__ import annotations

import tomllib
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from kb.base import disk
from kb.base.errors import BadInput, near_or_all
from kb.base.files import read_toml
from kb.knowledge import Entry, Knowledge
from kb.knowledge.catalog import MODELS, Item
from kb.knowledge.catalog.files import load_item
from kb.knowledge.stating import fields_of
from kb.rules.clauses import Value
from kb.rules.roles import kinds_of
from kb.rules.values import CURES

_TABLE = "items"
#: So many fields stand in the form: what is read by few rules decides little, and a sheet is read in minutes.
MOST = 16


def deciding(entry: Entry, known: Knowledge) -> list[tuple[str, int]]:
    """List the fields of an item by how many rules read them, most first: those that decide before the others."""
    counts: Counter[str] = Counter()
    for rule in known.rules:
        named = {path.partition(".") for path in rule.facts()}
        counts.update({name for role, _, name in named if entry.kind in kinds_of(role) and role != "cure"})
    here = [name for name in fields_of(entry) if not name.startswith(f"{CURES}.") and "." not in name]
    told = [(name, counts[name]) for name in here if counts[name] and not isinstance(entry.facts.get(name), tuple)]
    return sorted(told, key=lambda row: (-row[1], row[0]))[:MOST]


def form(entry: Entry, known: Knowledge) -> str:
    """Write the form for an item like `entry`: a line for each field that decides, with what the class has."""
    lines = [
        "# A house item from its data sheet. Take the # from a line where the sheet says it, and write its figure,",
        "# in the unit that the name ends in. What stays as it is holds as the class has it.",
        "# Then: tackroom item take FILE",
        f"[[{_TABLE}]]",
        f'kind = "{entry.kind}"',
        f'id = "our-{entry.id}"  # small letters, digits and hyphens',
        f'name = "our {entry.name}"',
        f'like = "{entry.id}"',
        'summary = ""  # name and day of issue of the sheet',
    ]
    for name, rules in deciding(entry, known):
        span = entry.facts.get("ranges", {}).get(name)
        of_class = f"; its class has {span[0]:g} to {span[1]:g}" if span else ""
        held = _toml(entry.facts[name]) if name in entry.facts else "?"
        lines.append(f"# {name} = {held}  # read by {rules} rule{'s' * (rules > 1)}{of_class}")
    return "\n".join(lines) + "\n"


def take(file: Path, workspace: Path, base: dict[str, Item], again: bool = False) -> list[str]:
    """Put every item of a file into the workspace's catalog, all or none; gives their ids.

    `base` is the catalog that they may be like. BadInput names the item and the field; an item that is there stays,
    unless `again` says that it is to be replaced.
    """
    rows = read_toml(file).get(_TABLE)
    if not isinstance(rows, list) or not rows or not all(isinstance(row, dict) for row in rows):
        raise BadInput(str(file), f"holds no [[{_TABLE}]]", "print a form: tackroom item form ITEM")
    texts: dict[Path, str] = {}
    for number, row in enumerate(rows, start=1):
        where, kind = f"{file}: item {number}", row.pop("kind", None)
        if kind not in MODELS:
            raise BadInput(where, f"kind: '{kind}' is no kind of item", near_or_all(str(kind), MODELS))
        item = load_item(str(kind), row, where, base)
        path = workspace / "catalog" / str(kind) / f"{item.id}.toml"
        if item.id in base or path in texts:
            raise BadInput(where, f"id: '{item.id}' is another item's", "give the house item an id of its own")
        if not again and path.exists():
            raise BadInput(where, f"'{item.id}' is there already", "add --again to replace it")
        texts[path] = "".join(_lines(row))
    for path, text in texts.items():
        path.parent.mkdir(parents=True, exist_ok=True)
        with disk.refusals(path):
            path.write_text(text, encoding="utf-8")
    return [path.stem for path in texts]


def give(ids: Sequence[str], workspace: Path) -> str:
    """Write house items as one file that another lab can take. BadInput where the workspace has none of that id."""
    found = {path.stem: path for kind in MODELS for path in sorted((workspace / "catalog" / kind).glob("*.toml"))}
    blocks = []
    for item in ids:
        if item not in found:
            raise BadInput(item, "is no item of the house", near_or_all(item, found) if found else "there are none yet")
        row = {"kind": found[item].parent.name, **read_toml(found[item])}
        blocks.append(f"[[{_TABLE}]]\n" + "".join(_lines(row)))
    text = "\n".join(blocks)
    assert tomllib.loads(text)
    return text


def _lines(row: dict[str, Any]) -> Iterator[str]:
    """Give a table's fields, a line each; a table in it stands in braces, so that one block holds all of an item."""
    for name, value in row.items():
        yield f"{_key(name)} = {_toml(value)}\n"


def _toml(value: Value) -> str:
    """Write a value as TOML has it.

    >>> _toml({"is": "good", "up_to_c": 60.0}), _toml([1, "a"]), _toml(True)
    ('{ is = "good", up_to_c = 60.0 }', '[1, "a"]', 'true')
    """
    import tomlkit

    if isinstance(value, dict):
        return "{ " + ", ".join(f"{_key(name)} = {_toml(inner)}" for name, inner in value.items()) + " }"
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(map(_toml, value)) + "]"
    return str(tomlkit.item(value).as_string())


def _key(name: str) -> str:
    import tomlkit

    return str(tomlkit.key(name).as_string())
