"""Between a job and the fields of a form: the same names with dots, in the query of a page's address.

A job travels in the address from page to page, so that a page can be kept, sent and gone back to, and the server
keeps nothing of it.

>>> data = job_data([("part.substrate", "brass"), ("service.temperature_c.0", "10"), ("service.temperature_c.1", "60")])
>>> data["part"], data["service"]
({'substrate': 'brass'}, {'temperature_c': ['10', '60']})
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterable, Iterator, Mapping
from math import isfinite
from typing import Any
from urllib.parse import urlencode

from kb.base.errors import BadInput
from kb.base.units import signed
from kb.job import Job, job_of

#: Fields of a job that hold any number of words: a form sends one name several times.
MANY = ("part.surface", "service.exposures", "limits.exclude_hazards")
#: The field that says of a chosen chain that it has no coat: a list that is empty can't be told from one left out.
NO_COATS = ("choose.coatings", "none")
#: Facts that describe the part's material beyond its name.
ABOUT_MATERIAL = "part.substrate."
#: What the words name becomes when facts are given as well: what the part is like.
LIKE = "like"


def job_data(pairs: Iterable[tuple[str, str]]) -> dict[str, Any]:
    """Give the job's tables from a form's fields; what is no field of a job, or empty, is passed over."""
    tables = set(Job.model_fields)
    data: dict[str, Any] = {}
    material: dict[str, Any] = {}
    for name, value in pairs:
        value = value.strip()
        first, dot, rest = name.partition(".")
        if first not in tables or not dot or not value:
            continue
        if name.startswith(ABOUT_MATERIAL):
            material[name.removeprefix(ABOUT_MATERIAL)] = _value(value)
        elif (name, value) == NO_COATS:
            data.setdefault(first, {})[rest] = []
        elif name in MANY:
            data.setdefault(first, {}).setdefault(rest, []).append(value)
        else:
            _put(data.setdefault(first, {}), rest.split("."), value)
    if material:
        part = data.setdefault("part", {})
        words = part.get("substrate")
        part["substrate"] = _nested(({LIKE: words} if words else {}) | material)
    return data


def job_from(pairs: Iterable[tuple[str, str]], where: str = "form") -> Job:
    """Give the job that a form's fields describe; BadInput names the field."""
    data = job_data(pairs)
    if not data.get("part", {}).get("substrate"):
        raise BadInput("part.substrate", "is missing", "name the material of the part")
    if len(data.get("service", {}).get("temperature_c", ())) < 2:
        raise BadInput("service.temperature_c", "is missing", "give the lowest and the highest temperature")
    return job_of(data, where)


def pairs_of(job: Job) -> list[tuple[str, str]]:
    """Give the fields that say `job` again: what differs from the defaults."""
    found = fields_of(job.model_dump(mode="json", exclude_defaults=True))
    return [*found, NO_COATS] if job.choose.coatings == () else found


def fields_of(tables: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Give the fields that say the same as a job's tables.

    >>> fields_of({"part": {"substrate": "brass"}, "service": {"temperature_c": [10.0, 60]}})
    [('part.substrate', 'brass'), ('service.temperature_c.0', '10'), ('service.temperature_c.1', '60')]
    """
    return [pair for table, fields in tables.items() for pair in _flat(table, fields)]


def query_of(job: Job, **more: Any) -> str:
    """Give the query of an address that asks about `job`, with other fields behind it; None is left out."""
    return urlencode([*pairs_of(job), *((name, str(value)) for name, value in more.items() if value is not None)])


def _put(table: dict[str, Any], path: list[str], value: str) -> None:
    """Put `value` where a dotted name says; a number in it is a place in a list."""
    name, *rest = path
    if not rest:
        table[name] = value
    elif rest[0].isdecimal():
        values = table.setdefault(name, [])
        if isinstance(values, list) and int(rest[0]) == len(values):
            values.append(value)
    else:
        inner = table.setdefault(name, {})
        if isinstance(inner, dict):
            _put(inner, rest, value)


def _value(text: str) -> Any:
    """Tell what a described material's field holds: a number, yes or no, or words."""
    if text in ("true", "false"):
        return text == "true"
    with contextlib.suppress(ValueError):
        number = float(signed(text))
        return number if isfinite(number) else text
    return text


def _nested(flat: dict[str, Any]) -> dict[str, Any]:
    data: dict[str, Any] = {}
    for name, value in flat.items():
        _put(data, name.split("."), value)
    return data


def _flat(name: str, value: Any) -> Iterator[tuple[str, str]]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from _flat(f"{name}.{key}", inner)
    elif isinstance(value, list):
        for place, inner in enumerate(value):
            yield from _flat(name if name in MANY else f"{name}.{place}", inner)
    elif value is not None:
        said = str(value).lower() if isinstance(value, bool) else f"{value:.12g}" if isinstance(value, float) else value
        yield name, str(said)
