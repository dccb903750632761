"""Amounts in exact decimals, each with its unit.

A unit that isn't listed here is a word of the lab's own ("sheet", "vial"): it equals itself and converts to
nothing. Nothing is converted between mass and volume: a density is a fact about an item, not about a unit. What is
said in inches, ounces or gallons is kept in metric units.

>>> convert(Decimal("0.5"), "L", "mL")
Decimal('500.0')
>>> text(Decimal("500.0")), text(Decimal("1E+3"))
('500', '1000')
>>> amount("2,5")
Traceback (most recent call last):
    ...
ValueError: '2,5' is not a number; write it with a decimal point, and no comma between thousands
"""

from __future__ import annotations

import re
from decimal import Decimal, InvalidOperation
from typing import Final

#: Bounds that keep every sum and conversion exact within the 28 digits of the default decimal context.
LARGEST: Final = Decimal(10) ** 9
DECIMALS: Final = 9

#: What each unit measures, and how many of the base unit it is.
_UNITS: Final[dict[str, tuple[str, Decimal]]] = {
    "mL": ("volume", Decimal(1)),
    "uL": ("volume", Decimal("0.001")),
    "L": ("volume", Decimal(1000)),
    "g": ("mass", Decimal(1)),
    "mg": ("mass", Decimal("0.001")),
    "kg": ("mass", Decimal(1000)),
    "mm": ("length", Decimal(1)),
    "cm": ("length", Decimal(10)),
    "m": ("length", Decimal(1000)),
    "mm2": ("area", Decimal(1)),
    "cm2": ("area", Decimal(100)),
    "m2": ("area", Decimal(1_000_000)),
    "pcs": ("count", Decimal(1)),
}
#: Units of the United States, each with the metric unit that it is kept in and how many of that it is (exact).
_CUSTOMARY: Final[dict[str, tuple[str, Decimal]]] = {
    "fl oz": ("mL", Decimal("29.5735295625")),
    "pt": ("mL", Decimal("473.176473")),
    "qt": ("mL", Decimal("946.352946")),
    "gal": ("mL", Decimal("3785.411784")),
    "oz": ("g", Decimal("28.349523125")),
    "lb": ("g", Decimal("453.59237")),
    "in": ("mm", Decimal("25.4")),
    "ft": ("mm", Decimal("304.8")),
    "yd": ("mm", Decimal("914.4")),
    "in2": ("mm2", Decimal("645.16")),
    "ft2": ("mm2", Decimal("92903.04")),
}
#: How the same units are often written, in lower case.
_SPELLINGS: Final[dict[str, str]] = {
    **{unit.lower(): unit for unit in _UNITS},
    "µl": "uL", "μl": "uL", "microlitre": "uL", "ml": "mL", "cc": "mL", "cm3": "mL", "cm³": "mL", "millilitre": "mL",
    "ltr": "L", "litre": "L", "litres": "L", "liter": "L", "liters": "L", "milliliter": "mL",
    "gram": "g", "grams": "g", "gr": "g", "mm²": "mm2", "cm²": "cm2", "m²": "m2",
    "pc": "pcs", "pce": "pcs", "piece": "pcs", "pieces": "pcs", "each": "pcs", "ea": "pcs", "off": "pcs",
    **{unit: unit for unit in _CUSTOMARY},
    "floz": "fl oz", "fl. oz.": "fl oz", "fl.oz.": "fl oz", "fluid ounce": "fl oz", "fluid ounces": "fl oz",
    "pint": "pt", "pints": "pt", "quart": "qt", "quarts": "qt", "gallon": "gal", "gallons": "gal",
    "ounce": "oz", "ounces": "oz", "pound": "lb", "pounds": "lb", "lbs": "lb",
    "inch": "in", "inches": "in", '"': "in", "foot": "ft", "feet": "ft", "yard": "yd", "yards": "yd",
    "sq in": "in2", "in²": "in2", "sq ft": "ft2", "ft²": "ft2",
}  # fmt: skip
_OWN_WORD = re.compile(r"[^\W\d_][\w .-]{0,19}")
_PLAIN = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)", re.ASCII)


def unit_named(words: str) -> str:
    """Give the unit that `words` stand for: a known one in its usual spelling, else the lab's own word.

    >>> unit_named("ml"), unit_named("Litres"), unit_named("sheet")
    ('mL', 'L', 'sheet')
    """
    folded = words.strip()
    known = _SPELLINGS.get(" ".join(folded.lower().split()))
    if known is None and not _OWN_WORD.fullmatch(folded):
        raise ValueError(f"'{words}' is not a unit, such as mL, g, m or pcs")
    return known or folded


def amount(words: str | int | Decimal) -> Decimal:
    """Give `words` as an exact decimal, finite and within bounds; ValueError with a sentence where it isn't one."""
    said = str(words).strip()
    try:
        number = Decimal(said) if isinstance(words, Decimal) or _PLAIN.fullmatch(said) else Decimal("NaN")
    except InvalidOperation:
        number = Decimal("NaN")
    if not number.is_finite():
        hint = "; write it with a decimal point, and no comma between thousands" if "," in said else ""
        raise ValueError(f"'{words}' is not a number{hint}")
    number = _shortest(number)
    exponent = number.as_tuple().exponent
    if abs(number) > LARGEST or (isinstance(exponent, int) and exponent < -DECIMALS):
        raise ValueError(f"{words} is beyond {LARGEST:f}, or has more than {DECIMALS} decimals")
    return number


def metric(number: Decimal, unit: str) -> tuple[Decimal, str]:
    """Give an amount in a metric unit, to six decimals where it wasn't in one.

    >>> metric(Decimal(16), "fl oz"), metric(Decimal(5), "sheet")
    ((Decimal('473.176473'), 'mL'), (Decimal('5'), 'sheet'))
    """
    into, factor = _CUSTOMARY.get(unit, (unit, Decimal(1)))
    return (number, unit) if into == unit else (round(number * factor, 6), into)


def known_units() -> tuple[str, ...]:
    """Give every unit that converts to others."""
    return (*_UNITS, *_CUSTOMARY)


def measures(unit: str) -> str:
    """Say what a unit measures; "" for a word of the lab's own.

    >>> measures("kg"), measures("gal"), measures("sheet")
    ('mass', 'volume', '')
    """
    return _UNITS.get(_CUSTOMARY.get(unit, (unit,))[0], ("",))[0]


def of_same_kind(unit: str) -> tuple[str, ...]:
    """Give the units that convert to `unit`, that one first.

    >>> of_same_kind("g"), of_same_kind("sheet")
    (('g', 'mg', 'kg', 'oz', 'lb'), ('sheet',))
    """
    others = [other for other in known_units() if other != unit and measures(other) == measures(unit)]
    return (unit, *others) if measures(unit) else (unit,)


def convert(number: Decimal, unit: str, into: str) -> Decimal:
    """Convert `number` of `unit` to the unit `into`, exactly; ValueError where the two measure different things."""
    if unit == into:
        return number
    one, other = _UNITS.get(unit), _UNITS.get(into)
    if one is None or other is None or one[0] != other[0]:
        raise ValueError(f"{unit} can't be converted to {into}")
    return number * one[1] / other[1]


def base_of(unit: str) -> tuple[str, Decimal]:
    """Give the base unit that amounts of `unit` can be added up in, and how many of it one `unit` is.

    >>> base_of("kg"), base_of("sheet")
    (('g', Decimal('1000')), ('sheet', Decimal('1')))
    """
    what, factor = _UNITS.get(unit, ("", Decimal(1)))
    base = next((name for name, (measures, one) in _UNITS.items() if measures == what and one == 1), unit)
    return base, factor


def text(number: Decimal) -> str:
    """Give the shortest plain spelling of `number`: no exponent, no trailing noughts."""
    return format(_shortest(number), "f")


def _shortest(number: Decimal) -> Decimal:
    number = number.normalize()
    return Decimal(0) if number == 0 else number
