"""docs/reference.md, from the commands, the models and the vocabulary: `python -m kb.reference`.

A test holds the document to the code.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

import typer
from pydantic import BaseModel

from kb import calc
from kb.base import vocabulary as v
from kb.job import Job
from kb.knowledge.catalog import MODELS, Item
from kb.knowledge.steps import StepTable
from kb.rules.form import RuleTable
from kb.rules.roles import ROLES

_STATUS = {
    0: "an answer",
    1: "an answer that you must act on: expired stock, a blocked pair, faults in the knowledge",
    2: "bad input, in one line that says what, where and how to mend it",
    3: "no compatible chain",
    4: "the store is locked, damaged or refused a write; nothing is lost",
}


def reference() -> str:
    """Give the whole document."""
    return "".join(f"{line}\n" for line in _lines())


def _lines() -> Iterator[str]:
    yield from (
        "# Reference",
        "",
        "Written by `python -m kb.reference`; a test holds it to the program.",
        "",
        "## Commands",
        "",
        "The lab's folder is `--workspace DIR`, or else `TACKROOM_WORKSPACE`.",
    )
    from kb.cli.program import program

    yield from _commands("tackroom", typer.main.get_command(program()))
    yield from ("", "## Exit status", "", *_table(("status", "meaning"), _STATUS.items()))
    yield from ("", "## The job file", "", "TOML. `[part]` and `[service]` are needed; a field without a default")
    yield "that is left out is not known. A number is in the unit that its name ends in; a text with a unit"
    yield 'is converted (`"90 degF"`).'
    for table, field in Job.model_fields.items():
        model = field.annotation
        if isinstance(model, type) and issubclass(model, BaseModel):
            yield from ("", f"### [{table}]", "", *_fields(model))
    yield from ("", "## Items", "", "One file for each, in a folder for each kind. What every kind has:", "")
    yield from _fields(Item)
    for kind, model in MODELS.items():
        yield from ("", f"### {kind}", "", f"Families: {_codes(v.FAMILIES[kind])}.", "")
        yield from _fields(model, skipped=set(Item.model_fields))
    yield from ("", "## Rules", "", f"Roles: {_codes(ROLES)}.", "", *_fields(RuleTable))
    yield from ("", "## Steps", "", *_fields(StepTable))
    yield from ("", "## Words", "")
    for what, words in (
        ("Stages", v.STAGES),
        ("Exposures", v.EXPOSURES),
        ("Surfaces", v.SURFACES),
        ("Hazards", v.HAZARDS),
        ("Resistance", v.RESISTANCE),
        ("Verdicts", v.VERDICTS),
        ("Bases", v.BASES),
    ):
        yield f"- {what}: {_codes(words)}"
    yield from ("", "## Calculations", "", "`tackroom calc NAME --inputs '{…}'`")
    for name in calc.names():
        known = calc.describe(name)
        yield from ("", f"### {name}", "", f"{known.title}. Source: {known.source}.", "")
        inputs = [(f"`{field}`", wanted.meaning) for field, wanted in known.fields.items()]
        results = [(f"`{field}`", f"result: {meaning}") for field, meaning in known.results.items()]
        yield from _table(("input or result", "meaning"), [*inputs, *results])


def _commands(path: str, command: Any) -> Iterator[str]:
    """List a command, or the commands of a group by name.

    They are sorted, for the order of registration hangs on what was imported first.
    """
    inner = getattr(command, "commands", None)
    if inner is not None:
        for name, one in sorted(inner.items()):
            yield from _commands(f"{path} {name}", one)
        return
    arguments = [p for p in command.params if p.param_type_name == "argument"]
    words = [f"{p.name.upper()}{' …' * (p.nargs == -1)}" for p in arguments]
    words = [word if p.required else f"[{word}]" for word, p in zip(words, arguments, strict=True)]
    yield from ("", f"### {' '.join([path, *words])}", "", command.help or "", "")
    options = [p for p in command.params if p not in arguments and p.name != "workspace"]
    rows = [(f"`{p.name.upper()}`", _help(p)) for p in arguments if p.help]
    rows += [(f"`{', '.join(p.opts)}`", _help(p)) for p in options]
    if rows:
        yield from _table(("argument or option", "meaning"), rows)


def _help(parameter: Any) -> str:
    default = parameter.default
    shown = (
        ""
        if default in (None, False, ()) or callable(default)
        else f" Default: `{getattr(default, 'value', default)}`."
    )
    return f"{parameter.help or ''}{shown}"


def _fields(model: type[BaseModel], skipped: Iterable[str] = ()) -> Iterator[str]:
    """Give the fields of a model: type, whether it is needed, and what it means where the name doesn't say it."""
    schema = model.model_json_schema()
    shapes = schema.get("$defs", {})
    rows = []
    for name, shape in schema["properties"].items():
        if name in skipped:
            continue
        needed = "needed" if name in schema.get("required", ()) else _default(shape)
        rows.append((f"`{name}`", _kind(shape, shapes), needed, shape.get("description", "")))
    yield from _table(("field", "type", "default", "meaning"), rows)


def _default(shape: Mapping[str, Any]) -> str:
    value = shape.get("default")
    return "" if value in (None, [], "", {}) else f"`{_toml(value)}`"


def _toml(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, list):
        return f"[{', '.join(_toml(v) for v in value)}]"
    return f'"{value}"' if isinstance(value, str) else str(value)


def _kind(shape: Mapping[str, Any], shapes: Mapping[str, Any]) -> str:
    """Give a JSON schema's type in a few words."""
    if "$ref" in shape:
        inner = shapes[shape["$ref"].rpartition("/")[2]]
        return f"table: {', '.join(inner['properties'])}"
    if "anyOf" in shape:
        return " or ".join(dict.fromkeys(_kind(s, shapes) for s in shape["anyOf"] if s.get("type") != "null"))
    if "enum" in shape:
        return "one of: " + ", ".join(map(str, shape["enum"]))
    if "const" in shape:
        return f"`{shape['const']}`"
    kind = shape.get("type")
    if kind == "array":
        if "prefixItems" in shape:
            return f"[{', '.join(_kind(s, shapes) for s in shape['prefixItems'])}]"
        return f"list of {_kind(shape.get('items', {}), shapes)}"
    if kind in ("number", "integer"):
        ends = [
            f"{words} {shape[end]:g}"
            for end, words in (
                ("minimum", "from"),
                ("exclusiveMinimum", "above"),
                ("maximum", "to"),
                ("exclusiveMaximum", "below"),
            )
            if end in shape
        ]
        return " ".join([{"number": "number", "integer": "whole number"}[kind], *ends])
    names = {
        "string": "date" if shape.get("format") == "date" else "text",
        "boolean": "true or false",
        "object": "table",
    }
    return names.get(str(kind), "any")


def _codes(words: Iterable[str]) -> str:
    return ", ".join(f"`{word}`" for word in words)


def _table(head: tuple[str, ...], rows: Iterable[tuple[Any, ...]]) -> Iterator[str]:
    yield f"| {' | '.join(head)} |"
    yield f"|{'---|' * len(head)}"
    for row in rows:
        yield f"| {' | '.join(str(cell).replace('|', '/') for cell in row)} |"
