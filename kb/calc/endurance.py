"""What something stands against what is asked of it: for so long, and with how much to spare."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from kb.calc.spec import Input, Spec, number

_celsius = number(at_least=-273.15, at_most=3000)

SPECS: Final = {
    "limit-for-days": Spec(
        inputs={
            "brief_c": Input("degC that it stands for hours", _celsius),
            "life_c": Input("degC that it stands for life", _celsius),
        },
        results={"limit_c": "degC that it stands for some three days"},
        source="half way between the two, as three days lie between 5 and 1000 hours by their logarithm (arithmetic)",
        example={"brief_c": 315, "life_c": 260},
    ),
    "margin": Spec(
        inputs={
            "has": Input("what it stands, in any unit", number(at_least=0, at_most=1e12)),
            "asked": Input("what is asked of it, in the same unit", number(above=0, at_most=1e12)),
        },
        results={"times": "how many times over it has what is asked"},
        source="ratio (arithmetic)",
        example={"has": 50000, "asked": 40000},
    ),
}


def margin(has: float, asked: float) -> Mapping[str, float]:
    """Work out how many times over something has what is asked of it.

    Source: ratio (arithmetic).

    >>> margin(50000, 40000)
    {'times': 1.25}
    """
    return {"times": round(has / asked, 3)}


def limit_for_days(brief_c: float, life_c: float) -> Mapping[str, float]:
    """Work out the limit [degC] for some three days, from those for hours and for life.

    Source: thermal endurance is drawn as a line of temperature over the logarithm of time, on which three days lie
    half way between 5 and 1000 hours.

    >>> limit_for_days(315, 260)
    {'limit_c': 287.5}
    """
    return {"limit_c": (brief_c + life_c) / 2}
