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
from typing import Any

#: The unit that a field's name ends in, longest ending first.
_ENDINGS = {
    "_per_h": "1/hour",
    "_min": "minute",
    "_mm": "mm",
    "_um": "micrometer",
    "_h": "hour",
    "_days": "day",
    "_m3": "meter**3",
    "_pct": "percent",
    "_ue": "ppm",
    "_gpa": "GPa",
    "_mn_m": "mN/m",
    "_g_cm3": "g/cm**3",
    "_w_mk": "W/m/K",
    "_ppm_per_c": "ppm/delta_degC",
    "_c": "degC",
    "_bar": "bar",
    "_kgy": "kilogray",
    "_m": "meter",
}


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
    for ending, unit in _ENDINGS.items():
        if field.endswith(ending):
            return unit
    return None


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
    """`value` as a finite float in `unit`; raises ValueError with a sentence a user can act on."""
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
    """`text` with a decimal comma as a point. A comma that may part thousands as well is refused: it is no guess.

    >>> _with_point("60,5 degC"), _with_point("0,125 in")
    ('60.5 degC', '0.125 in')
    """
    if re.search(r"(?<![\d,])[1-9]\d{0,2},\d{3}(?!\d)", text) or text.count(",") > 1:
        raise ValueError(f"'{text}': a comma may part thousands or decimals; write a point, or no comma")
    return re.sub(r"(?<=\d),(?=\d)", ".", text)


def _spelled(text: str, unit: str) -> str:
    """`text` with C and F as degrees: pint takes them for coulomb and farad, and a step of 1 degC for 274 K.

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
    ureg, pint = _registry()
    # One number, then a unit: given the whole text pint would reckon it out, and "9**9**9**9" has no end.
    parts = _QUANTITY.fullmatch(_spelled(_with_point(text), unit))
    if parts is None:
        raise ValueError(f"'{text}' is not a number with a unit, such as '20 {written(unit)}'")
    number, own = float(parts["number"]), parts["unit"]
    if not own:
        return number
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
