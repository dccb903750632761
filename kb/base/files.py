"""TOML files in, validated records out; every fault names file, field and mend."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any, TypeVar, get_args, get_origin

from pydantic import BaseModel, ValidationError

from kb.base.disk import read
from kb.base.errors import BadInput, nearest

M = TypeVar("M", bound=BaseModel)
#: A job or an item takes a few thousand bytes.
MOST_TOML = 2_000_000
#: What pydantic says in a programmer's words, in a user's.
_PLAIN = {
    "date_from_datetime_parsing": "should be a day such as 2027-03-01",
    "date_type": "should be a day such as 2027-03-01",
    "tuple_type": "should be a list, such as [a, b]",
    "list_type": "should be a list, such as [a, b]",
    "model_type": "should be a table",
    "dict_type": "should be a table",
    "model_attributes_type": "should be a table",
    "string_type": "should be a text in quotes",
    "float_type": "should be a number",
    "float_parsing": "should be a number",
    "int_type": "should be a whole number",
    "int_parsing": "should be a whole number",
    "int_from_float": "should be a whole number",
    "bool_type": "should be true or false",
    "bool_parsing": "should be true or false",
    "finite_number": "should be a finite number",
}


def read_toml(path: Path, shown: str | None = None) -> dict[str, Any]:
    """Give the parsed file; BadInput where it is missing, unreadable, too long, not UTF-8 or not TOML."""
    name = shown or str(path)
    return toml_of(read(path, MOST_TOML, name), name)


def toml_of(content: bytes, name: str) -> dict[str, Any]:
    """Parse the bytes of what `name` names in messages; BadInput where they are too many, not UTF-8 or not TOML."""
    if len(content) > MOST_TOML:
        raise BadInput(name, f"has more than {MOST_TOML} bytes", "check that it is the right file")
    try:
        return tomllib.loads(content.decode("utf-8-sig").replace("\r\n", "\n").replace("\r", "\n"))
    except UnicodeDecodeError as fault:
        raise BadInput(name, f"is not UTF-8 text (byte {fault.start})", "save it as UTF-8") from None
    except tomllib.TOMLDecodeError as fault:
        raise BadInput(name, f"is not TOML: {fault}", "mend the line that it names") from None
    except RecursionError:
        raise BadInput(name, "is not TOML: it is nested without end", "mend it") from None
    except ValueError as fault:  # a number of thousands of digits
        raise BadInput(name, f"is not TOML: {fault}", "mend it") from None


def typed(text: str) -> Any:
    """Read what a TOML file would hold there: a number, a list, a word with or without quotes.

    >>> typed("48"), typed("[1, 2]"), typed("48 h"), typed("good")
    (48, [1, 2], '48 h', 'good')
    """
    try:
        return tomllib.loads(f"value = {text}")["value"]
    except (ValueError, RecursionError):
        return text


def validated(model: type[M], data: Any, where: str) -> M:
    """Read `data` as `model`; the first fault as one BadInput that names the field, and the near name."""
    try:
        return model.model_validate(data)
    except ValidationError as faults:
        raise fault_of(model, faults, where) from None


def fault_of(model: type[BaseModel], faults: ValidationError, where: str) -> BadInput:
    """Give the first fault of a validation in one line, and how many more there are."""
    errors = faults.errors(include_url=False, include_context=False)
    # An unknown field is the likeliest slip, and explains a "missing" one that comes with it.
    first = next((e for e in errors if e["type"] == "extra_forbidden"), errors[0])
    path = _dotted(first["loc"])
    more = f" (and {len(errors) - 1} more fault{'s' * (len(errors) > 2)})" if len(errors) > 1 else ""
    if first["type"] == "extra_forbidden":
        here, name = _model_at(model, first["loc"][:-1]), str(first["loc"][-1])
        if name in (former := getattr(here, "FORMER", {})):
            return BadInput(where, f"{path}: is called {former[name]} now{more}", f"write {former[name]} in its place")
        return BadInput(where, f"{path}: there is no such field{more}", _in_place_of(name, here, model))
    if first["type"] == "missing":
        return BadInput(where, f"{path}: is missing{more}", "give it a value")
    said = _PLAIN.get(first["type"]) or first["msg"].removeprefix("Value error, ").replace(
        "Input should be", "should be"
    )
    given = first.get("input")
    shown = f" (given: {given!r})" if isinstance(given, (str, int, float, bool)) else ""
    if first["type"] == "literal_error" and isinstance(given, str):
        mend = nearest(given, re.findall("'([^']*)'", said))
        return BadInput(where, f"{path}: {said}{shown}{more}", mend)
    return BadInput(where, f"{path}: {said}{shown}{more}" if path else f"{said}{more}")


def _in_place_of(name: str, here: type[BaseModel], model: type[BaseModel]) -> str:
    """Tell where a field belongs that the table `here` hasn't: in another table of the file, or by another name."""
    tables = (
        (table, field.annotation) for table, field in model.model_fields.items() if not get_origin(field.annotation)
    )
    homes = [table for table, form in tables if form is not here and name in _names(_model_in(form))]
    if homes:
        return f"write it below [{homes[0]}]"
    renamed = (
        f"write {former[name]} below [{table}] in its place"
        for table, field in model.model_fields.items()
        if name in (former := getattr(_model_in(field.annotation), "FORMER", {}))
    )
    return next(renamed, "") or nearest(name, _names(here)) or f"known here: {', '.join(_names(here))}"


def _names(model: type[BaseModel] | None) -> list[str]:
    return [] if model is None else [field.alias or name for name, field in model.model_fields.items()]


def _dotted(loc: tuple[int | str, ...]) -> str:
    text = ""
    for part in loc:
        text += f"[{part}]" if isinstance(part, int) else f".{part}" if text else str(part)
    return text


def _model_at(model: type[BaseModel], loc: tuple[int | str, ...]) -> type[BaseModel]:
    """Give the model nested at `loc`; `model` itself where the path leads through plain types."""
    here: type[BaseModel] = model
    for part in loc:
        if isinstance(part, int) or part not in here.model_fields:
            continue
        inner = _model_in(here.model_fields[part].annotation)
        if inner is not None:
            here = inner
    return here


def _model_in(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((m for a in get_args(annotation) if (m := _model_in(a)) is not None), None)


def toml_files(folder: Path) -> list[Path]:
    """List every .toml file below `folder`, in a stable order.

    Hidden ones and templates (`_name.toml`) are left out.
    """
    return sorted(
        p
        for p in folder.rglob("*.toml")
        if not any(part.startswith((".", "_")) for part in p.relative_to(folder).parts)
    )
