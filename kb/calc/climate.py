"""The bench's air: dew point, and how far a part stands above it."""

from __future__ import annotations

import math
from typing import Final

import psychrolib

from kb.calc.spec import Input, Result, Spec, number

psychrolib.SetUnitSystem(psychrolib.SI)

# Magnus form over water, constants of Sonntag as used by the WMO: from memory.
_MAGNUS_PA: Final = 611.2
_MAGNUS_A: Final = 17.62
_MAGNUS_B_C: Final = 243.12
#: Pressure of the air at sea level [Pa]; only the humidity ratio hangs on it.
_SEA_LEVEL_PA: Final = 101_325.0
#: Temperatures of a part [degC] between which the equations hold.
_COLDEST_C, _HOTTEST_C = -100.0, 200.0

SPECS: Final = {
    "dew-point": Spec(
        inputs={
            "air_temperature_c": Input("degC, dry bulb", number(at_least=-60, at_most=100)),
            "relative_humidity_pct": Input(
                "%, above 0 to 100; over ice where the air is below 0 degC", number(above=0, at_most=100)
            ),
            "part_temperature_c": Input("degC, optional: the part's surface", number(at_least=-273.15)),
        },
        results={
            "dew_point_c": "degC at which moisture first settles: as dew, below 0 degC as frost",
            "phase": "dew (over water) or frost (over ice)",
            "over_water_c": "degC, dew point over water; below 0 degC lower than the frost point",
            "margin_c": "K that the part stands above dew_point_c; only where part_temperature_c is given",
        },
        example={"air_temperature_c": 22, "relative_humidity_pct": 45, "part_temperature_c": 22},
        source="ASHRAE Handbook Fundamentals 2017 ch. 1 eq. 5 and 6, through psychrolib; "
        "over supercooled water the Magnus form with constants from memory",
        sources=("ashrae-fundamentals-2017",),
    )
}


def dew_point(
    air_temperature_c: float, relative_humidity_pct: float, part_temperature_c: float | None = None
) -> Result:
    """Work out the dew point [degC] of air at `air_temperature_c` [degC] and `relative_humidity_pct` [%].

    Below 0 degC what settles first is frost, and the frost point (over ice) lies above the dew point over water:
    `dew_point_c` is the higher of the two, since a part above it stays dry; `over_water_c` is the other.
    Raises ValueError outside the equations' range; perfectly dry air (0 %) has no dew point.

    Source: ASHRAE Handbook Fundamentals 2017 ch. 1, through psychrolib.

    >>> found = dew_point(22, 45, part_temperature_c=22)
    >>> round(found["dew_point_c"], 1), found["phase"], round(found["margin_c"], 1)
    (9.5, 'dew', 12.5)
    >>> found = dew_point(10, 40)
    >>> round(found["dew_point_c"], 1), found["phase"], round(found["over_water_c"], 1)
    (-2.6, 'frost', -3.0)
    """
    dew = psychrolib.GetTDewPointFromRelHum(air_temperature_c, relative_humidity_pct / 100)
    frost = dew < 0
    found = {
        "dew_point_c": dew,
        "phase": "frost" if frost else "dew",
        "over_water_c": _over_water(air_temperature_c, relative_humidity_pct / 100) if frost else dew,
    }
    if part_temperature_c is not None:
        found["margin_c"] = part_temperature_c - dew
    return found


def _over_water(air_c: float, humidity: float) -> float:
    """Work out the dew point over supercooled water [degC], by the Magnus form both ways."""
    exponent = math.log(humidity) + _MAGNUS_A * air_c / (_MAGNUS_B_C + air_c)
    if air_c < 0:
        # There the humidity is over ice: the vapour is that share of the ice's pressure.
        exponent = math.log(psychrolib.GetVapPresFromRelHum(air_c, humidity) / _MAGNUS_PA)
    return _MAGNUS_B_C * exponent / (_MAGNUS_A - exponent)


def humidity_ratio_g_kg(air_c: float, humidity_pct: float) -> float:
    """Work out the water [g] in a kilogram of dry air at sea level, at `air_c` [degC] and `humidity_pct` [%].

    Source: ASHRAE Handbook Fundamentals 2017 ch. 1, through psychrolib.

    >>> round(humidity_ratio_g_kg(22, 45), 1)
    7.4
    """
    return 1000 * float(psychrolib.GetHumRatioFromRelHum(air_c, humidity_pct / 100, _SEA_LEVEL_PA))


def humidity_at_part_pct(air_c: float, humidity_pct: float, part_c: float) -> float | None:
    """Work out the relative humidity [%] of the room's air at the face of a part at `part_c` [degC].

    A part at the dew point or below it has 100 %. None where the part is so hot or cold that the equations don't hold.

    Source: ASHRAE Handbook Fundamentals 2017 ch. 1, through psychrolib.

    >>> round(humidity_at_part_pct(22, 45, part_c=15)), humidity_at_part_pct(22, 45, part_c=5)
    (70, 100.0)
    """
    if not _COLDEST_C < part_c < _HOTTEST_C:
        return None
    vapour_pa = psychrolib.GetVapPresFromRelHum(air_c, humidity_pct / 100)
    return min(100.0, 100 * float(vapour_pa / psychrolib.GetSatVapPres(part_c)))


def humidity_of_dew_point_pct(air_c: float, dew_c: float) -> float:
    """Work out the relative humidity [%] at which air at `air_c` [degC] has its dew point at `dew_c` [degC].

    Raises ValueError where the dew point is above the air's temperature.

    Source: ASHRAE Handbook Fundamentals 2017 ch. 1, through psychrolib.

    >>> round(humidity_of_dew_point_pct(22, dew_c=9.5))
    45
    """
    return 100 * float(psychrolib.GetRelHumFromTDewPoint(air_c, dew_c))
