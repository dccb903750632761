"""TOML files in, validated records out; every fault names file, field and mend.

Only this module reads knowledge files. It is not on the path of an ordinary `plan`, which takes the
compiled knowledge (kb.knowledge) as long as that matches the files.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar, get_args

from pydantic import BaseModel, ValidationError

from kb.base.errors import BadInput, nearest

if TYPE_CHECKING:
    # The models of the catalog take longer to build than a plan takes; a job file alone doesn't need them.
    from kb.knowledge.catalog import Item, Source

M = TypeVar("M", bound=BaseModel)
#: What pydantic says in a programmer's words, in a user's.
_PLAIN = {
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
    """The parsed file; BadInput where it is missing, unreadable, not UTF-8 or not TOML."""
    name = shown or str(path)
    try:
        return tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except FileNotFoundError:
        raise BadInput(name, "there is no such file", "check the path") from None
    except IsADirectoryError:
        raise BadInput(name, "is a folder, not a file", "name a .toml file") from None
    except UnicodeDecodeError as fault:
        raise BadInput(name, f"is not UTF-8 text (byte {fault.start})", "save it as UTF-8") from None
    except tomllib.TOMLDecodeError as fault:
        raise BadInput(name, f"is not TOML: {fault}", "mend the line that it names") from None
    except RecursionError:
        raise BadInput(name, "is not TOML: it is nested without end", "mend it") from None
    except ValueError as fault:  # a number of thousands of digits
        raise BadInput(name, f"is not TOML: {fault}", "mend it") from None
    except OSError as fault:
        raise BadInput(name, f"can't be read: {fault}", "check the file and its permissions") from None


def validated(model: type[M], data: Any, where: str) -> M:
    """`data` as `model`; the first fault as one BadInput that names the field, and the near name."""
    try:
        return model.model_validate(data)
    except ValidationError as faults:
        raise fault_of(model, faults, where) from None


def fault_of(model: type[BaseModel], faults: ValidationError, where: str) -> BadInput:
    """The first fault of a validation in one line, and how many more there are."""
    errors = faults.errors(include_url=False, include_context=False)
    # An unknown field is the likeliest slip, and explains a "missing" one that comes with it.
    first = next((e for e in errors if e["type"] == "extra_forbidden"), errors[0])
    path = _dotted(first["loc"])
    more = f" (and {len(errors) - 1} more)" if len(errors) > 1 else ""
    if first["type"] == "extra_forbidden":
        known = _fields_at(model, first["loc"][:-1])
        mend = nearest(str(first["loc"][-1]), known) or f"known here: {', '.join(known)}"
        return BadInput(where, f"{path}: there is no such field{more}", mend)
    if first["type"] == "missing":
        return BadInput(where, f"{path}: is missing{more}", "give it a value")
    said = _PLAIN.get(first["type"]) or first["msg"].removeprefix("Value error, ").replace(
        "Input should be", "should be"
    )
    given = first.get("input")
    shown = f" (given: {given!r})" if isinstance(given, (str, int, float, bool)) else ""
    return BadInput(where, f"{path}: {said}{shown}{more}" if path else f"{said}{more}")


def _dotted(loc: tuple[int | str, ...]) -> str:
    text = ""
    for part in loc:
        text += f"[{part}]" if isinstance(part, int) else f".{part}" if text else str(part)
    return text


def _fields_at(model: type[BaseModel], loc: tuple[int | str, ...]) -> list[str]:
    """The field names of the model nested at `loc`; those of `model` where the path leads through plain types."""
    here: type[BaseModel] = model
    for part in loc:
        if isinstance(part, int) or part not in here.model_fields:
            continue
        inner = _model_in(here.model_fields[part].annotation)
        if inner is not None:
            here = inner
    return [field.alias or name for name, field in here.model_fields.items()]


def _model_in(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((m for a in get_args(annotation) if (m := _model_in(a)) is not None), None)


def toml_files(folder: Path) -> list[Path]:
    """Every .toml file below `folder`, in a stable order; hidden ones and templates (`_name.toml`) are left out."""
    return sorted(
        p
        for p in folder.rglob("*.toml")
        if not any(part.startswith((".", "_")) for part in p.relative_to(folder).parts)
    )


def load_items(folder: Path, base: dict[str, Item] | None = None) -> Iterator[tuple[str, Item, Path]]:
    """Every item below `folder` (`KIND/ID.toml`) as (kind, item, path), in a stable order.

    `base` holds the catalog that a house item's `like` may refer to; its faults name the whole path.
    """
    from kb.knowledge.catalog import MODELS

    for kind in MODELS:
        for path in toml_files(folder / kind):
            shown = str(path) if base else f"{folder.name}/{path.relative_to(folder)}"
            item = load_item(kind, read_toml(path, shown), shown, base or {})
            if item.id != path.stem:
                raise BadInput(shown, f"id: '{item.id}' is not the file's name", f"rename one of them to '{item.id}'")
            yield kind, item, path


def load_item(kind: str, data: dict[str, Any], where: str, base: dict[str, Item]) -> Item:
    """One item of `kind` from its table; `like` takes over the fields that the table doesn't give."""
    from kb.knowledge.catalog import MODELS

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
    """The works that statements cite, by id."""
    from kb.knowledge.catalog import Source

    shown = f"{path.parent.name}/{path.name}"
    sources: dict[str, Source] = {}
    for number, entry in enumerate(read_toml(path, shown).get("sources", []), start=1):
        source = validated(Source, entry, f"{shown}: source {number}")
        if source.id in sources:
            raise BadInput(shown, f"source '{source.id}' stands there twice", "keep one of them")
        sources[source.id] = source
    return sources
