"""Hansen's solubility distance: how alike a liquid and a polymer are."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Final

from kb.calc.spec import Input, Spec, number, several

# No common liquid has a parameter above water's dH of 42.3; more is a slip of the decimal point (54 for 5.4
# stands in an open list).
_parameters = several(number(at_least=0, at_most=45), exactly=3)

SPECS: Final = {
    "solubility-distance": Spec(
        inputs={
            "a": Input("MPa^0.5, [dD, dP, dH] of the one", _parameters),
            "b": Input("MPa^0.5, [dD, dP, dH] of the other", _parameters),
            "radius": Input(
                "MPa^0.5, radius of the polymer's sphere, from the same list as its centre", number(above=0, at_most=50)
            ),
        },
        results={
            "ra": "MPa^0.5, distance",
            "red": "ra over radius",
            "attacks": "true up to a red of 1: dissolves or swells. False is no proof of safety: "
            "stressed polymers craze above 1",
            "total_a": "MPa^0.5, total parameter of the one",
            "total_b": "MPa^0.5, total parameter of the other",
        },
        example={"a": [15.8, 6.1, 16.4], "b": [18.6, 10.5, 7.5], "radius": 8.6},
        source="Hansen: ra^2 = 4 (ddD)^2 + (ddP)^2 + (ddH)^2; red = ra / radius",
        sources=("hansen-handbook-2e",),
    )
}


def solubility_distance(a: Sequence[float], b: Sequence[float], radius: float) -> Mapping[str, float]:
    """Measure the Hansen distance `ra` [MPa^0.5] of `a` and `b`, each [dD, dP, dH] [MPa^0.5]; `red` is ra / `radius`.

    A ratio up to 1 says that the liquid dissolves or swells the polymer. A ratio above 1 never says that it is
    safe: amorphous polymers under stress craze in liquids well outside their sphere. Radii of different lists differ
    up to twofold, and may not be mixed.

    Source: Hansen, Hansen Solubility Parameters: A User's Handbook (recalled; an open library codes the same).

    >>> acrylic, butanone = [18.6, 10.5, 7.5], [16.0, 9.0, 5.1]
    >>> found = solubility_distance(acrylic, butanone, radius=8.6)
    >>> round(found["ra"], 2), round(found["red"], 3), found["attacks"]
    (5.92, 0.688, True)
    """
    ra = math.hypot(2 * (a[0] - b[0]), a[1] - b[1], a[2] - b[2])
    red = ra / radius
    return {"ra": ra, "red": red, "attacks": red <= 1, "total_a": math.hypot(*a), "total_b": math.hypot(*b)}
