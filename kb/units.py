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
    "_c": "degC",
}


def unit_of(field: str) -> str | None:
    """The pint unit that a field's name ends in; None for a plain number or a word.

    >>> unit_of("max_process_temperature_c"), unit_of("grid_mm"), unit_of("cycles")
    ('degC', 'mm', None)
    """
    for ending, unit in _ENDINGS.items():
        if field.endswith(ending):
            return unit
    return None


def to_unit(value: float | str, unit: str) -> float:
    """`value` as a finite float in `unit`; raises ValueError with a sentence a user can act on."""
    if isinstance(value, bool):
        raise ValueError(f"{value} is not a number")
    number = float(value) if isinstance(value, (int, float)) else _parse(value, unit)
    if not math.isfinite(number):
        raise ValueError(f"{number} is not a finite number")
    if unit == "degC" and number < -273.15:
        raise ValueError(f"{number:g} degC is below absolute zero")
    return number


def _parse(text: str, unit: str) -> float:
    ureg, pint = _registry()
    try:
        quantity = ureg.Quantity(text)
        if quantity.unitless and unit != "percent":
            return float(quantity.magnitude)
        # Conversions leave noise in the last digits (50 degF is 10.000000000000057 degC); nine decimals are plenty.
        return round(float(quantity.to(unit).magnitude), 9)
    except pint.DimensionalityError:
        raise ValueError(f"'{text}' is not in a unit that converts to {unit}") from None
    except Exception:
        # pint raises many kinds for malformed text (tokenizer, attribute, syntax, recursion): all mean this.
        raise ValueError(f"'{text}' is not a number with a unit, such as '20 {unit}'") from None


@cache
def _registry() -> tuple[Any, Any]:
    import pint

    ureg: Any = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
    return ureg, pint
