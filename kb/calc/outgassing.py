"""Outgassing in vacuum against the screening limits of ASTM E595."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from kb.calc.spec import Input, Spec, number

# ASTM E595: "not more than", so exactly at a limit passes.
TML_LIMIT_PCT: Final = 1.00
CVCM_LIMIT_PCT: Final = 0.10

_percent = number(at_least=0, at_most=100)

SPECS: Final = {
    "outgassing": Spec(
        inputs={
            "tml_pct": Input("%, total mass loss", _percent),
            "cvcm_pct": Input("%, collected volatile condensable material", _percent),
            "wvr_pct": Input("%, water vapour regained; optional, shown, not used", _percent),
        },
        results={
            "passes": "true where total mass loss is at most 1.00 % and condensables are at most 0.10 %",
            "tml_less_water_pct": "%, for programmes that credit water by waiver; no part of passes",
        },
        example={"tml_pct": 0.5, "cvcm_pct": 0.02, "wvr_pct": 0.2},
        source="ASTM E595 screening limits: TML 1.00 %, CVCM 0.10 %, after 24 h at 125 degC in vacuum",
        sources=("astm-e595",),
    )
}


def outgassing(tml_pct: float, cvcm_pct: float, wvr_pct: float | None = None) -> Mapping[str, float]:
    """Tell whether total mass loss [%] and condensables [%] pass ASTM E595; exactly at a limit passes.

    The water that a material takes up again, `wvr_pct` [%], is shown as a credit and decides nothing.

    Source: ASTM E595, scope.

    >>> outgassing(1.00, 0.10)
    {'passes': True}
    >>> found = outgassing(1.4, 0.02, wvr_pct=0.8)
    >>> found["passes"], round(found["tml_less_water_pct"], 9)
    (False, 0.6)
    """
    found: dict[str, float] = {"passes": tml_pct <= TML_LIMIT_PCT and cvcm_pct <= CVCM_LIMIT_PCT}
    if wvr_pct is not None:
        found["tml_less_water_pct"] = tml_pct - wvr_pct
    return found
