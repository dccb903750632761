"""Jobs and other tables in a request's body: what OpenAPI says of them, and what no reader of ours should see."""

from __future__ import annotations

from collections.abc import Mapping
from math import isfinite
from typing import Annotated, Any

from fastapi import Body
from pydantic import AfterValidator, Field, GetJsonSchemaHandler
from pydantic_core import CoreSchema

from kb.base import vocabulary as v
from kb.base.units import unit_of
from kb.job import Job, job_of

#: A job has three levels, a described material two more.
DEEPEST = 10


def sound(value: Any, levels: int = DEEPEST) -> Any:
    """Give `value`, where it is text throughout, and not nested without end; else ValueError.

    JSON can write half of a character ("\\ud800") and, as many read it, NaN: no file and no answer can hold these.

    >>> sound({"job": {"name": "x"}})
    {'job': {'name': 'x'}}
    """
    if levels == 0:
        raise ValueError(f"is nested in more than {DEEPEST} levels")
    if isinstance(value, str):
        if any("\ud800" <= letter <= "\udfff" for letter in value):
            raise ValueError("holds half a character")
    elif isinstance(value, float) and not isfinite(value):
        raise ValueError("holds what is no finite number")
    elif isinstance(value, Mapping):
        for name, inner in value.items():
            sound(name)
            sound(inner, levels - 1)
    elif isinstance(value, list):
        for inner in value:
            sound(inner, levels - 1)
    return value


#: Stands in a schema for that of a job, which is put into OpenAPI's own list of schemas (kb.web.api.describing).
JOB_HERE = {"title": "Job", "x-schema": "Job"}


_WORDS = {
    "surface": v.SURFACES, "exposures": v.EXPOSURES, "exclude_hazards": v.HAZARDS, "backing": v.FAMILIES["backing"],
    "jurisdiction": v.JURISDICTIONS[:-1],
}  # fmt: skip


class _AsJob:
    """Says in OpenAPI that a table is a job; it is read by the job file's own reader, which says faults in one line."""

    @classmethod
    def __get_pydantic_json_schema__(cls, _: CoreSchema, __: GetJsonSchemaHandler) -> dict[str, Any]:
        return dict(JOB_HERE)


Sound = AfterValidator(sound)
#: A line of text that somebody typed or scanned. The ledger's own bounds are narrower.
Text = Annotated[str, Field(max_length=600)]
Table = Annotated[dict[str, Any], Sound]
JobTable = Annotated[dict[str, Any], Sound, _AsJob]
EXAMPLE = {
    "job": {"name": "bracket, spring fatigue test"},
    "part": {"substrate": "aluminium 6061"},
    "service": {"temperature_c": [-20, 70], "duration_days": 30},
}
JobBody = Annotated[JobTable, Body(description="A job, as a job file has it.", examples=[EXAMPLE])]


def job_in(body: Mapping[str, Any]) -> Job:
    """Give the job that a request's body holds; BadInput names the field."""
    return job_of(body, "body")


def as_read(schema: dict[str, Any]) -> dict[str, Any]:
    """Give a table's JSON schema as the job's reader takes it.

    A quantity may be a number or, as in a job file, a text with
    its unit; a word is one of its closed list."""
    for name, field in schema.get("properties", {}).items():
        if unit_of(name):
            schema["properties"][name] = _or_text(field)
        elif name in _WORDS:
            allowed = {"type": "string", "enum": list(_WORDS[name])}
            one = {"anyOf": [allowed, {"type": "null"}]} if "anyOf" in field else {}
            schema["properties"][name] = {**field, **(one or {"items": allowed})}
    return schema


def _or_text(field: dict[str, Any]) -> dict[str, Any]:
    text = {"type": "string", "description": "a number with its unit, such as '90 degF'", "minLength": 1}
    if field.get("type") == "array":
        return {**field, "prefixItems": [_or_text(inner) for inner in field["prefixItems"]]}
    if "anyOf" in field:
        return {**field, "anyOf": [*field["anyOf"], text]}
    own: dict[str, Any] = {name: field[name] for name in ("title", "default", "description") if name in field}
    return {**own, "anyOf": [{name: value for name, value in field.items() if name not in own}, text]}
