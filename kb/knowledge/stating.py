"""One value of an item, as somebody types it, held to the form that the catalog's items have."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BaseModel, TypeAdapter, ValidationError

from kb.base.errors import BadInput, nearest
from kb.base.models import Grade
from kb.base.surroundings import exposures
from kb.base.units import converted
from kb.knowledge import Entry
from kb.knowledge.catalog import MODELS, Item
from kb.knowledge.catalog.base import Hansen
from kb.knowledge.catalog.bond import Schedule
from kb.knowledge.derive import LIMITED
from kb.rules.clauses import Value
from kb.rules.values import CURES

#: What names and explains an item, or is a table of its own: not a value that can be told by itself.
_NOT_TOLD = frozenset(Item.model_fields) | {"composition", "vapours", "hansen", "resists", CURES, "limits"}
#: What a grade of resistance may be limited by.
_LIMITS = tuple(f".{name}" for name in LIMITED)


def fields_of(entry: Entry) -> list[str]:
    """List the fields of an item that may be given a value, those of its cures by the name of each."""
    model = MODELS[entry.kind]
    found = [name for name in model.model_fields if name not in _NOT_TOLD]
    if "hansen" in model.model_fields:
        found += [f"hansen.{axis}" for axis in ("d", "p", "h", "radius")]
    if "resists" in model.model_fields:
        found += [f"resists.{exposure}{limit}" for exposure in exposures() for limit in ("", *_LIMITS)]
    names = [name for name in Schedule.model_fields if name != "id"]
    return [*found, *(f"{CURES}.{cure['id']}.{name}" for cure in entry.facts.get(CURES, ()) for name in names)]


def checked(entry: Entry, field: str, value: Any, where: str) -> Value:
    """Give a value of a field in the unit that its name ends in. BadInput, in one line, where it can't be one."""
    known = fields_of(entry)
    top, _, rest = field.partition(".")
    if field not in known:
        raise BadInput(where, f"{entry.id} has no field '{field}'", _near(field, known, entry))
    last = field.rpartition(".")[2]
    try:
        said = converted(last, value)
    except ValueError as fault:
        raise BadInput(where, f"{entry.id}.{fault}", "write a number, in the unit that the name ends in") from None
    try:
        if top == CURES:
            return _valid(Schedule, last, said)
        model = MODELS[entry.kind]
        if top == "hansen":
            return _valid(Hansen, last, said)
        if top == "resists" and "." in rest:
            return _valid(Grade, last, said)
        if top == "resists":
            return _valid(model, top, {last: said})[last]
        found = _valid(model, top, said)
    except ValidationError as faults:
        said_of = faults.errors(include_url=False)[0]["msg"]
        raise BadInput(where, f"{entry.id}.{field} can't be '{value}'", said_of) from None
    return tuple(found) if isinstance(found, (list, tuple)) else found


def _near(field: str, known: list[str], entry: Entry) -> str:
    """Name the field that may be meant: one that ends so, or is spelt like it."""
    ending = [name for name in known if name.endswith(f".{field}")]
    return f"did you mean '{ending[0]}'?" if ending else nearest(field, known) or f"see `show {entry.id}`"


def _valid(model: type[BaseModel], name: str, value: Any) -> Any:
    field: Any = model.model_fields[name]
    kind: Any = Annotated[field.annotation, *field.metadata] if field.metadata else field.annotation
    adapter: TypeAdapter[Any] = TypeAdapter(kind)
    return adapter.validate_python(value)
