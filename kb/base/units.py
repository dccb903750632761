"""Numbers with units at the edge of the program.

Inside, a number is in the unit that its name ends in. A job file may also hold a string with a unit
("90 degF", "0.25 in"); only then is pint imported.

>>> to_unit("194 degF", "degC")
90.0
>>> round(to_unit("0.25 in", "mm"), 6)
6.35
>>> to_unit(12, "mm")
12.0
"""

import math
import re
from collections.abc import Mapping
from functools import cache
from typing import Any, NamedTuple


class Unit(NamedTuple):
    """A unit: as pint takes it, and as people say it behind a number."""

    pint: str
    said: str


#: By what a field's name ends in, longest ending first.
_UNITS = {
    "_g_mm_m2_d": Unit("g*mm/m**2/day", "g mm per m2 and day"),
    "_ppm_per_c": Unit("ppm/delta_degC", "ppm per degC"),
    "_months": Unit("month", "months"),
    "_g_cm3": Unit("g/cm**3", "g/cm3"),
    "_per_h": Unit("1/hour", "per h"),
    "_g_ml": Unit("g/mL", "g/mL"),
    "_mn_m": Unit("mN/m", "mN/m"),
    "_w_mk": Unit("W/m/K", "W/(m K)"),
    "mg_m3": Unit("mg/m**3", "mg/m3"),
    "_days": Unit("day", "days"),
    "_bar": Unit("bar", "bar"),
    "_gpa": Unit("GPa", "GPa"),
    "_kgy": Unit("kilogray", "kGy"),
    "_kpa": Unit("kPa", "kPa"),
    "_min": Unit("minute", "min"),
    "_pct": Unit("percent", "%"),
    "_m3": Unit("meter**3", "m3"),
    "_mm": Unit("mm", "mm"),
    "_ue": Unit("ppm", "microstrain"),
    "_um": Unit("micrometer", "um"),
    "_c": Unit("degC", "degC"),
    "_h": Unit("hour", "h"),
    "_m": Unit("meter", "m"),
}
#: Minus signs as phones and texts write them, and the word.
_MINUS = re.compile(r"^\s*(?:[\u2212\u2013]\s*|minus\s+)(?=[.\d])", re.IGNORECASE)
#: How people write what pint spells out; each can be read back.
_WRITTEN = {
    "delta_degC": "degC",
    "micrometer": "um",
    "kilogray": "kGy",
    "meter": "m",
    "minute": "min",
    "hour": "h",
    "percent": "%",
    "**": "",
    "*": " ",
}

LONGEST = 60
_NAME = r"[A-Za-zµμ°%_]+(?:(?:\*\*|\^)?-?[1-9])?"
_QUANTITY = re.compile(
    rf"\s*(?P<number>[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*(?P<unit>(?:1?\s*/\s*)?{_NAME}(?:\s*[/*\s]\s*{_NAME}){{0,3}})?\s*"
)


def unit_of(field: str) -> str | None:
    """Give the pint unit that a field's name ends in; None for a plain number or a word.

    >>> unit_of("max_process_temperature_c"), unit_of("grid_mm"), unit_of("cycles")
    ('degC', 'mm', None)
    """
    found = _UNITS.get(ending_of(field))
    return found.pint if found else None


def unit_words(field: str) -> str:
    """Say the unit that a field's name ends in; "" for a plain number or a word.

    >>> unit_words("max_strain_ue"), unit_words("air_changes_per_h"), unit_words("cycles")
    ('microstrain', 'per h', '')
    """
    found = _UNITS.get(ending_of(field))
    return found.said if found else ""


def ending_of(field: str) -> str:
    """Give the end of a field's name that stands for its unit; "" where none does."""
    return next((ending for ending in _UNITS if field.endswith(ending)), "")


def signed(text: str) -> str:
    """Give a number with the minus that phones and texts write, or the word, with the one that programs read.

    >>> signed("\u221240"), signed("minus 18 degC"), signed("glass\u2212filled")
    ('-40', '-18 degC', 'glass\u2212filled')
    """
    return _MINUS.sub("-", text)


def written(unit: str) -> str:
    """Write a unit of pint's as people do.

    >>> written("meter**3"), written("1/hour"), written("ppm/delta_degC"), written("day")
    ('m3', '1/h', 'ppm/degC', 'day')
    """
    for spelt, short in _WRITTEN.items():
        unit = unit.replace(spelt, short)
    return unit


def degrees(celsius: float) -> str:
    """Print a temperature to a tenth of a degree: nobody measures a part closer, and 22 degF is no round figure.

    >>> degrees(-5.555556), degrees(60.0), degrees(-0.04), degrees(-195.8)
    ('-5.6', '60', '0', '-195.8')
    """
    return f"{round(celsius, 1) + 0.0:.10g}"


def converted(field: str, value: Any) -> Any:
    """Give the value of a field in the unit that its name ends in: numbers, strings with a unit, and lists of them.

    What has no unit stays as it is. Raises ValueError with a sentence that names the field.

    >>> converted("temperature_c", ["50 degF", 60]), converted("name", "x"), converted("cte_ppm_per_c", "13 ppm/degF")
    ([10.0, 60.0], 'x', 23.4)
    """
    unit = unit_of(field)
    if unit is None or isinstance(value, (bool, Mapping)) or value is None:
        return value
    if isinstance(value, (list, tuple)):
        return [converted(field, inner) for inner in value]
    try:
        return to_unit(value, unit)
    except ValueError as fault:
        raise ValueError(f"{field}: {fault}") from None


def to_unit(value: Any, unit: str) -> float:
    """Give `value` as a finite float in `unit`; raises ValueError with a sentence a user can act on."""
    if isinstance(value, bool) or not isinstance(value, (int, float, str)):
        raise ValueError(f"{value} is not a number")
    try:
        number = _parse(value, unit) if isinstance(value, str) else float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise ValueError(f"{number} is not a finite number")
    if unit == "degC" and number < -273.15:
        raise ValueError(f"{number:g} degC is below absolute zero")
    return number


def _with_point(text: str) -> str:
    """Give `text` with a decimal comma as a point. A comma that may part thousands as well is refused: it is no guess.

    >>> _with_point("60,5 degC"), _with_point("0,125 in")
    ('60.5 degC', '0.125 in')
    """
    if re.search(r"(?<![\d,])[1-9]\d{0,2},\d{3}(?!\d)", text) or text.count(",") > 1:
        raise ValueError(f"'{text}': a comma may part thousands or decimals; write a point, or no comma")
    return re.sub(r"(?<=\d),(?=\d)", ".", text)


def _spelled(text: str, unit: str) -> str:
    """Give `text` with C and F as degrees: pint takes them for coulomb and farad, and a step of 1 degC for 274 K.

    >>> _spelled("185 F", "degC"), _spelled("23 ppm/°C", "ppm/delta_degC")
    ('185degF', '23 ppm/delta_degC')
    """
    text = re.sub(r"\bper\b", "/", text)
    if unit == "degC":
        return re.sub(r"(?<=[\d.\s])(?:°|deg\.?)?\s*([CF])\s*$", r"deg\1", text)
    if "delta" in unit:
        return re.sub(r"/\s*(?:°|deg\.?)?\s*([CF])\b", r"/delta_deg\1", text)
    return text


def _parse(text: str, unit: str) -> float:
    if len(text) > LONGEST:
        raise ValueError(f"'{text[:LONGEST]}…' is too long for a number with its unit")
    # One number, then a unit: given the whole text pint would reckon it out, and "9**9**9**9" has no end.
    parts = _QUANTITY.fullmatch(_spelled(_with_point(signed(text)), unit))
    if parts is None:
        raise ValueError(f"'{text}' is not a number with a unit, such as '20 {written(unit)}'")
    number, own = float(parts["number"]), parts["unit"]
    if not own:
        return number
    ureg, pint = _registry()
    own = re.sub(r"(?<=[a-z])(-?[1-9])\b", r"**\1", re.sub(r"^1?\s*/", "dimensionless/", own))
    try:
        quantity = ureg.Quantity(number, ureg.parse_units(own))
        # Conversions leave noise in the last digits (50 degF is 10.000000000000057 degC); nine decimals are plenty.
        return round(float(quantity.to(unit).magnitude), 9)
    except pint.DimensionalityError:
        raise ValueError(f"'{text}' is not in a unit that converts to {written(unit)}") from None
    except Exception:
        # pint raises many kinds for malformed text (tokenizer, attribute, syntax, recursion): all mean this.
        raise ValueError(f"'{text}' is not a number with a unit, such as '20 {written(unit)}'") from None


@cache
def _registry() -> tuple[Any, Any]:
    import pint

    ureg: Any = pint.UnitRegistry()
    return ureg, pint
