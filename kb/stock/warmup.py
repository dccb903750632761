"""How long a cold container must stand in the room before it is opened.

Water from the room settles on whatever is below the dew point, and it ruins cyanoacrylates and isocyanates. The
container is taken as a cylinder of liquid in still air. It warms as one (lumped capacity), with the time constant
c V/A (1/h + 2R/(5k)), after a lag of R²c/(5k) until the warmth reaches the middle; V/A is the volume over the whole
surface, h the heat taken up from the air, R the radius, c and k the heat that the liquid holds and conducts. The two
fifths are chosen so that the middle of the cylinder is never colder than this says by the exact series (tests
compare them); the wait is up to twice as long as need be. It is rounded up to five minutes.

>>> found = warm_up(20, cold_c=5, air_temperature_c=22, relative_humidity_pct=45)
>>> found["wait_min"], round(found["open_above_c"], 1)
(50, 12.5)
"""

from __future__ import annotations

import math
from typing import Any

from kb.base.errors import BadInput
from kb.calc import run
from kb.stock.practice import figure

_STEP_MIN = 5


def warm_up(volume_ml: float, cold_c: float, air_temperature_c: float, relative_humidity_pct: float) -> dict[str, Any]:
    """Tell how long a container of `volume_ml` [mL] at `cold_c` [degC] must warm in the room, with what that stands on.

    Gives `wait_min` [min], `open_above_c` [degC], `dew_point_c` [degC], `time_constant_min` [min] and `basis`.
    Raises BadInput where an input is none, and where the room is too damp for any wait to do.
    """
    for name, value, low, high in (("volume_ml", volume_ml, 0, 20_000), ("cold_c", cold_c, -273.15, 100)):
        if not (math.isfinite(value) and low < value <= high):
            raise BadInput(name, f"{value:g} is not above {low:g} and up to {high:g}", "check the figure and its unit")
    air = {"air_temperature_c": air_temperature_c, "relative_humidity_pct": relative_humidity_pct}
    dew_point: float = run("dew-point", air)["result"]["dew_point_c"]
    target = dew_point + figure("warming", "margin_c")
    if cold_c < target and target >= air_temperature_c:
        what = f"the room is too damp: it would have to be warmer than {target:.1f} degC"
        raise BadInput("relative_humidity_pct", what, "warm or dry the room, or open it elsewhere")
    constant, lag = _time_constant_and_lag_min(volume_ml)
    wait = 0.0
    if cold_c < target:
        wait = lag + constant * math.log((air_temperature_c - cold_c) / (air_temperature_c - target))
    return {
        "wait_min": math.ceil(wait / _STEP_MIN) * _STEP_MIN,
        "open_above_c": target,
        "dew_point_c": dew_point,
        "time_constant_min": round(constant, 1),
        "basis": "estimate: a cylinder of water's heat and an organic liquid's conduction in still air (from memory); "
        f"{figure('warming', 'margin_c'):g} degC above the dew point (common practice)",
    }


def radius_m(volume_ml: float) -> float:
    """Give the radius [m] of the cylinder that stands for a container of `volume_ml` [mL]."""
    return float((volume_ml * 1e-6 / (2 * math.pi * figure("warming", "height_to_width"))) ** (1 / 3))


def _time_constant_and_lag_min(volume_ml: float) -> tuple[float, float]:
    radius = radius_m(volume_ml)
    height = 2 * figure("warming", "height_to_width") * radius
    depth = radius * height / (2 * (radius + height))
    conductivity = figure("warming", "conductivity_w_mk")
    heat_j_m3k = figure("warming", "volumetric_heat_j_cm3k") * 1e6
    resistance = 1 / figure("warming", "heat_transfer_w_m2k") + 0.4 * radius / conductivity
    return heat_j_m3k * depth * resistance / 60, heat_j_m3k * radius**2 / (5 * conductivity) / 60
