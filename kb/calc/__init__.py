"""Calculations by name: pure functions with units, sources and checked inputs.

`run` is for outside input: it checks everything and names its source. `function` is for the rule engine's
inner loop: the bare function, keyword inputs in, a mapping of results out; outside its domain it may raise
ValueError or ArithmeticError. Listing or running one calculation imports its own module only.

>>> run("outgassing", {"tml_pct": 1.0, "cvcm_pct": 0.1})["result"]["passes"]
True
>>> function("stiffening")(part={"modulus_gpa": 70, "thickness_mm": 1}, layers=[])["ratio"]
0.0
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Mapping
from functools import cache
from importlib import import_module
from typing import Final

from kb.base.errors import BadInput, nearest
from kb.calc.spec import Calculation, Function, Result, Spec

__all__ = ["Calculation", "describe", "function", "names", "run"]

#: Name -> module of this package, function in it, title.
_TABLE: Final[dict[str, tuple[str, str, str]]] = {
    "ageing-factor": ("ageing", "ageing_factor", "How much faster something ages at one temperature than at another"),
    "beyond-limits": ("limits", "beyond_limits", "Whether surroundings go beyond what a grade of resistance holds for"),
    "bilayer-curvature": ("mismatch", "bilayer_curvature", "Curvature of two bonded layers after a temperature change"),
    "contact-pressure": ("pressing", "contact_pressure", "Pressure of a weight on a gauge, and what is missing"),
    "dew-point": ("climate", "dew_point", "Temperature at which the room's moisture settles on a surface"),
    "expiry": ("dates", "expiry", "Last day of use, from a life or from a GS1 date"),
    "film-stress": ("mismatch", "film_stress", "Stress in a thin film on a part after cooling"),
    "grit-size": ("abrasive", "grit_size", "Mean grain of an abrasive grade, and the grades nearest to it"),
    "layered-beam": ("stiffening", "layered_beam", "Neutral axis, bending stiffness and stresses of bonded layers"),
    "limit-for-days": ("endurance", "limit_for_days", "How hot something may be held for some days"),
    "limits-in": ("limits", "limits_in", "What a grade of resistance holds for in some exposures"),
    "margin": ("endurance", "margin", "How many times over something has what is asked of it"),
    "mean-kinetic-temperature": ("ageing", "mean_kinetic_temperature", "The one temperature that ages like a history"),
    "outgassing": ("outgassing", "outgassing", "Vacuum outgassing against the limits of ASTM E595"),
    "pot-life": ("ageing", "pot_life", "Pot life at the bench's temperature"),
    "room-clearing": ("vapour", "room_clearing", "Time until a vapour in a room has thinned out"),
    "room-vapour": ("vapour", "room_vapour", "Vapour in a ventilated room while something evaporates"),
    "solubility-distance": ("solubility", "solubility_distance", "Hansen distance of a liquid from a polymer"),
    "spares": ("spares", "spares", "Installations to attempt for enough good ones"),
    "stiffening": ("stiffening", "stiffening", "Share of load that gauge, adhesive and coating take from a part"),
    "surface-energy": ("wetting", "surface_energy", "Surface energy from two contact angles"),
}


def names() -> tuple[str, ...]:
    """List every calculation's name, in alphabetical order."""
    return tuple(_TABLE)


@cache
def function(name: str) -> Function:
    """Give the bare function behind `name`; BadInput, with the near name, where there is none."""
    module, attribute, _ = _row(name)
    found: Function = getattr(import_module(f"{__name__}.{module}"), attribute)
    return found


@cache
def describe(name: str) -> Calculation:
    """Tell what `name` takes, gives and stands on; BadInput, with the near name, where there is none."""
    module, _, title = _row(name)
    spec: Spec = import_module(f"{__name__}.{module}").SPECS[name]
    return Calculation(name, title, function(name), spec.inputs, spec.results, spec.source, spec.example, spec.sources)


def run(name: str, inputs: Mapping[str, object]) -> Result:
    """Run `name` on plain JSON values from outside, and give name, inputs with defaults, result and source.

    Raises BadInput for a name or an input that doesn't exist (with the near name), one that is missing, of the
    wrong type, not finite, or outside the domain.
    """
    calculation = describe(name)
    checked = _checked(calculation, inputs)
    try:
        result = dict(calculation.function(**checked))
    except ValueError as fault:
        raise BadInput(name, str(fault)) from None
    except ArithmeticError:
        raise BadInput(name, "the numbers are too large or too small to calculate with") from None
    for key, value in result.items():
        if isinstance(value, float) and not math.isfinite(value):
            raise BadInput(name, f"{key} comes out as no finite number", "check the size and unit of each input")
    return {
        "name": name,
        "inputs": {key: _plain(value) for key, value in checked.items()},
        "result": result,
        "source": calculation.source,
    }


def _checked(calculation: Calculation, inputs: Mapping[str, object]) -> dict[str, object]:
    """Read `inputs` by their readers and fill in defaults; None counts as left out."""
    fields, required, defaults = calculation.fields, calculation.required, calculation.defaults
    # An unknown input is the likeliest slip, and explains a "missing" one that comes with it.
    for field in inputs:
        if field not in fields:
            mend = nearest(str(field), fields) or f"it takes {', '.join(fields)}"
            raise BadInput(calculation.name, f"there is no input '{field}'", mend)
    checked: dict[str, object] = {}
    for field, wanted in fields.items():
        value = inputs.get(field)
        if value is not None:
            try:
                checked[field] = wanted.read(value)
            except ValueError as fault:
                raise BadInput(f"{calculation.name}: {field}", str(fault), f"it takes: {wanted.meaning}") from None
        elif field in required:
            raise BadInput(f"{calculation.name}: {field}", "is missing", f"it takes: {wanted.meaning}")
        elif field in defaults:
            checked[field] = defaults[field]
    return checked


def _row(name: str) -> tuple[str, str, str]:
    if name not in _TABLE:
        raise BadInput("calc", f"there is no calculation '{name}'", nearest(name, _TABLE) or f"see {', '.join(_TABLE)}")
    return _TABLE[name]


def _plain(value: object) -> object:
    return value.isoformat() if isinstance(value, datetime.date) else value
