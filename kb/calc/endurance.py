"""What something stands against what is asked of it: for so long, and with how much to spare."""

from __future__ import annotations

from collections.abc import Mapping
from math import floor, log
from typing import Final

from kb.calc.spec import Input, Spec, number

HOURS_PER_DAY: Final = 24.0
#: What counts as hours, and the days at which a limit is half way to the one for life.
BRIEF_H: Final = 5.0
DAYS: Final = 3.0

_celsius = number(at_least=-273.15, at_most=3000)

SPECS: Final = {
    "limit-for-days": Spec(
        inputs={
            "brief_c": Input("degC that it stands for hours", _celsius),
            "life_c": Input("degC that it stands for life", _celsius),
            "days": Input("d, of three days or less; left out: three", number(above=0, at_most=1e12)),
        },
        results={"limit_c": "degC that it stands for so many days"},
        source="a line over the logarithm of time, from 5 hours to three days, half way to 1000 hours (arithmetic)",
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


def limit_for_days(brief_c: float, life_c: float, days: float = DAYS) -> Mapping[str, float]:
    """Work out the limit [degC] for three days or fewer, from those for hours and for life.

    Source: thermal endurance is drawn as a line of temperature over the logarithm of time, on which three days lie
    half way between 5 and 1000 hours. Half a degree is as fine as such lines are known.

    >>> limit_for_days(315, 260)
    {'limit_c': 287.5}
    >>> limit_for_days(260, 230, 0.25), limit_for_days(260, 230, 0.1)
    ({'limit_c': 258.5}, {'limit_c': 260.0})
    """
    passed = log(days * HOURS_PER_DAY / BRIEF_H) / log(DAYS * HOURS_PER_DAY / BRIEF_H)
    on_the_line = brief_c - (brief_c - life_c) / 2 * min(max(passed, 0.0), 1.0)
    return {"limit_c": max(life_c, floor(on_the_line * 2) / 2)}
