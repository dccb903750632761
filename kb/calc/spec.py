"""What a named calculation takes and gives, and the check of what a user hands it.

A `Reader` turns one outside value into what the function takes, or raises ValueError with a sentence that a
user can act on. Readers are composed: `several(number(above=0))` reads a list of positive numbers.

>>> number(above=0)(12)
12.0
>>> record(modulus_gpa=number(above=0))({"modulus_gpa": "70"})
Traceback (most recent call last):
    ...
ValueError: modulus_gpa: '70' is not a number
"""

from __future__ import annotations

import datetime
import inspect
import math
from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

from kb.base.errors import nearest

#: What a calculation gives, by name: figures, words, yes or no, lists.
Result = Mapping[str, Any]
Reader = Callable[[Any], Any]
Function = Callable[..., Result]


class Input(NamedTuple):
    """One input: its unit and meaning in a few words, and how an outside value of it is read."""

    meaning: str
    read: Reader


class Spec(NamedTuple):
    """What a module says of one of its calculations: inputs, results, where the formula stands, and a call of it.

    `example` holds inputs as a user would give them; `sources` ids of generic_catalog/sources.toml, none where
    nothing published is claimed.
    """

    inputs: Mapping[str, Input]
    results: Mapping[str, str]
    source: str
    example: Mapping[str, object]
    sources: tuple[str, ...] = ()


class Calculation(NamedTuple):
    """A named calculation. An input is required where the function has no default for it."""

    name: str
    title: str
    function: Function
    fields: Mapping[str, Input]
    results: Mapping[str, str]
    source: str
    example: Mapping[str, object]
    sources: tuple[str, ...]

    @property
    def inputs(self) -> dict[str, str]:
        """Unit and meaning of each input."""
        return {name: field.meaning for name, field in self.fields.items()}

    @property
    def required(self) -> tuple[str, ...]:
        """Inputs that must be given."""
        return tuple(name for name, default in self._parameters() if default is inspect.Parameter.empty)

    @property
    def defaults(self) -> dict[str, Any]:
        """What stands for an input that is left out, where something does."""
        return {n: d for n, d in self._parameters() if d is not inspect.Parameter.empty and d is not None}

    def _parameters(self) -> list[tuple[str, object]]:
        return [(p.name, p.default) for p in inspect.signature(self.function).parameters.values()]


def number(
    *,
    at_least: float = -math.inf,
    above: float = -math.inf,
    at_most: float = math.inf,
    below: float = math.inf,
) -> Reader:
    """Read a finite number within the bounds."""

    def read(value: object) -> float:
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise ValueError(f"{shown(value)} is not a number")
        try:
            given = float(value)
        except OverflowError:
            given = math.inf
        if not math.isfinite(given):
            raise ValueError("is not a finite number")
        if given < at_least:
            raise ValueError(f"must be at least {at_least:g} (given: {given:g})")
        if given <= above:
            raise ValueError(f"must be above {above:g} (given: {given:g})")
        if given > at_most:
            raise ValueError(f"must be at most {at_most:g} (given: {given:g})")
        if given >= below:
            raise ValueError(f"must be below {below:g} (given: {given:g})")
        return given

    return read


def whole(*, at_least: int = 0, at_most: int) -> Reader:
    """Read a whole number within the bounds; 3.0 counts as 3."""
    in_bounds = number(at_least=at_least, at_most=at_most)

    def read(value: object) -> int:
        given = in_bounds(value)
        if given != int(given):
            raise ValueError(f"must be a whole number (given: {given:g})")
        return int(given)

    return read


def text(value: object) -> str:
    """Read a text that is not empty."""
    if not isinstance(value, str) or not value.strip():
        raise ValueError(f"{shown(value)} is not a text in quotes")
    return value.strip()


def choice(*words: str) -> Reader:
    """Read one of the words."""

    def read(value: object) -> str:
        if value not in words:
            near = nearest(value, words) if isinstance(value, str) else ""
            raise ValueError(f"{shown(value)} is not one of {', '.join(words)}{'; ' + near if near else ''}")
        return str(value)

    return read


def date(value: object) -> datetime.date:
    """Read a calendar day: a date, or a text in ISO 8601 form.

    >>> date("2026-W53-7")
    datetime.date(2027, 1, 3)
    """
    if isinstance(value, datetime.date) and not isinstance(value, datetime.datetime):
        return value
    if isinstance(value, str):
        try:
            return datetime.date.fromisoformat(value)
        except ValueError:
            pass
    raise ValueError(f"{shown(value)} is not a date such as '2027-02-28'")


def several(item: Reader, *, at_least: int = 1, exactly: int | None = None) -> Reader:
    """Read a list, each member by `item`."""

    def read(value: object) -> list[object]:
        if not isinstance(value, (list, tuple)):
            raise ValueError(f"{shown(value)} is not a list, such as [a, b]")
        if exactly is not None and len(value) != exactly:
            raise ValueError(f"must hold {exactly} values (given: {len(value)})")
        if len(value) < at_least:
            raise ValueError(f"must hold at least {at_least} value{'s' if at_least > 1 else ''}")
        return [_inside(f"[{index}]", item, member) for index, member in enumerate(value)]

    return read


def record(**fields: Reader) -> Reader:
    """Read a table that holds each of the fields and nothing else."""

    def read(value: object) -> dict[str, object]:
        if not isinstance(value, Mapping):
            raise ValueError(f"{shown(value)} is not a table with {', '.join(fields)}")
        for name in value:
            if name not in fields:
                mend = nearest(str(name), fields) or f"known here: {', '.join(fields)}"
                raise ValueError(f"there is no field {shown(name)}; {mend}")
        for name in fields:
            if name not in value:
                raise ValueError(f"{name} is missing")
        return {name: _inside(f"{name}:", read_field, value[name]) for name, read_field in fields.items()}

    return read


def _inside(place: str, read: Reader, value: object) -> object:
    try:
        return read(value)
    except ValueError as fault:
        raise ValueError(f"{place} {fault}") from None


def shown(value: object) -> str:
    """Show a user's value in a message, cut short."""
    said = repr(value)
    return said if len(said) <= 40 else f"{said[:37]}..."
