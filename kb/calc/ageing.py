"""Ageing and temperature: shelf life, mean kinetic temperature, pot life.

Two models stand beside each other and are never mixed on one product: a factor `q10` for each 10 K, and
Arrhenius with an activation energy. Doubling every 10 K is about 53 kJ/mol near room temperature; the
convention of the mean kinetic temperature, 83.144 kJ/mol, is a q10 of nearly 3.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Final

from kb.calc.spec import Input, Spec, choice, number, several

#: Molar gas constant [J/(mol K)], exact since 2019.
GAS_CONSTANT: Final = 8.314462618
_ZERO_C: Final = 273.15
#: Convention of the mean kinetic temperature [kJ/mol]: activation energy over gas constant is 10 000 K.
_CONVENTION_KJ_MOL: Final = 83.144

_temperature = number(above=-_ZERO_C, at_most=2000)
_Q10 = Input("factor for each 10 K; either this or activation_kj_mol", number(above=0, at_most=100))
_ACTIVATION = Input("kJ/mol, Arrhenius; either this or q10", number(above=0, at_most=1000))

SPECS: Final = {
    "mean-kinetic-temperature": Spec(
        inputs={
            "temperatures_c": Input("degC, a list of readings", several(_temperature)),
            "hours": Input(
                "h, how long each reading holds; left out: all alike. For times of reading use times_h",
                several(number(above=0)),
            ),
            "activation_kj_mol": Input("kJ/mol, by convention 83.144", number(above=0, at_most=1000)),
            "times_h": Input("h, when each reading was taken, rising; in place of hours", several(number())),
            "between": Input(
                "with times_h: hold (a reading holds until the next; the last counts for nothing) or "
                "trapezoid (the rate of ageing runs straight from reading to reading)",
                choice("hold", "trapezoid"),
            ),
        },
        results={
            "mkt_c": "degC, the constant temperature that ages alike",
            "mean_c": "degC, the plain mean over the same time; below mkt_c for any activation energy above 2 R T",
        },
        example={"temperatures_c": [5, 25], "hours": [20, 4]},
        source="USP <1160>, formula as commonly reproduced; unequal spacing weighted by time",
        sources=("usp-1160",),
    ),
    "ageing-factor": Spec(
        inputs={
            "temperature_c": Input("degC, at which it is kept", _temperature),
            "reference_c": Input("degC, for which the life or rate is known", _temperature),
            "q10": _Q10,
            "activation_kj_mol": _ACTIVATION,
        },
        results={
            "factor": "times as fast as at reference_c",
            "equivalent_q10": "the q10 that says the same between these two temperatures",
            "equivalent_activation_kj_mol": "kJ/mol that says the same between these two temperatures",
        },
        example={"q10": 2, "temperature_c": 30, "reference_c": 20},
        source="q10: accelerated ageing as in ASTM F1980; activation energy: Arrhenius",
        sources=("astm-f1980",),
    ),
    "pot-life": Spec(
        inputs={
            "pot_life_min": Input("min, stated at reference_c", number(above=0)),
            "temperature_c": Input("degC, of the mixed adhesive", _temperature),
            "reference_c": Input("degC, for which pot_life_min is stated", _temperature),
            "q10": _Q10,
            "activation_kj_mol": _ACTIVATION,
            "mass_g": Input("g, mixed at once; optional", number(above=0)),
            "reference_mass_g": Input("g, for which pot_life_min is stated; optional", number(above=0)),
        },
        results={
            "pot_life_min": "min at temperature_c, for the mass that the stated life is for",
            "optimistic": "true where a bigger mass is mixed, or the mass is not known: then expect less",
        },
        example={"pot_life_min": 30, "q10": 2, "temperature_c": 30, "reference_c": 25},
        source="a rule of thumb, common practice: rate by q10 or Arrhenius; heat of a bigger mass not modelled",
    ),
}


def mean_kinetic_temperature(
    temperatures_c: Sequence[float],
    hours: Sequence[float] | None = None,
    activation_kj_mol: float = _CONVENTION_KJ_MOL,
    times_h: Sequence[float] | None = None,
    between: str = "hold",
) -> Mapping[str, float]:
    """Work out the mean kinetic temperature [degC] of readings `temperatures_c` [degC].

    `hours` [h] says how long each reading holds. Or else `times_h` [h] says when each was taken; then a reading
    holds until the next, or, with `between="trapezoid"`, the rate of ageing runs straight between readings.
    Raises ValueError where lists don't match or times don't rise.

    Source: USP <1160>, formula as commonly reproduced; the trapezoid as in Tong & Lock 2015.

    >>> found = mean_kinetic_temperature([5, 5, 5, 25])
    >>> round(found["mkt_c"], 2), found["mean_c"]
    (15.13, 10.0)
    >>> round(mean_kinetic_temperature([5, 25], hours=[72, 24])["mkt_c"], 2)
    15.13
    """
    weights = _weights(len(temperatures_c), hours, times_h, between)
    kelvins = [t + _ZERO_C for t in temperatures_c]
    scale = activation_kj_mol * 1000 / GAS_CONSTANT
    # Relative to the hottest reading, so that no exponential underflows.
    hottest = max(kelvins)
    total = math.fsum(weights)
    rate = math.fsum(w * math.exp(scale / hottest - scale / k) for w, k in zip(weights, kelvins, strict=True)) / total
    mkt = scale / (scale / hottest - math.log(rate))
    mean = math.fsum(w * t for w, t in zip(weights, temperatures_c, strict=True)) / total
    return {"mkt_c": mkt - _ZERO_C, "mean_c": mean}


def _weights(count: int, hours: Sequence[float] | None, times: Sequence[float] | None, between: str) -> Sequence[float]:
    """Weigh each reading by the time that it stands for."""
    if hours is not None and times is not None:
        raise ValueError("give either hours or times_h, not both")
    if hours is not None:
        if len(hours) != count:
            raise ValueError(f"hours has {len(hours)} values for {count} temperatures; give one for each")
        return hours
    if times is None:
        return [1.0] * count
    if len(times) != count or count < 2:
        raise ValueError(f"times_h has {len(times)} values for {count} temperatures; give one for each, at least two")
    spans = [later - earlier for earlier, later in pairwise(times)]
    if min(spans) <= 0:
        raise ValueError("times_h must rise from each reading to the next")
    if between == "hold":
        return [*spans, 0.0]
    return [(before + after) / 2 for before, after in zip([0.0, *spans], [*spans, 0.0], strict=True)]


def ageing_factor(
    temperature_c: float, reference_c: float, q10: float | None = None, activation_kj_mol: float | None = None
) -> Mapping[str, float]:
    """Tell how many times as fast as at `reference_c` [degC] something ages at `temperature_c` [degC].

    Give either `q10` (the factor for each 10 K) or `activation_kj_mol` [kJ/mol]; ValueError for both or neither.
    The result also says what the other model's figure would be between these two temperatures.

    Source: q10 as in ASTM F1980; Arrhenius.

    >>> ageing_factor(35, 25, q10=2)["factor"]
    2.0
    >>> round(ageing_factor(35, 25, q10=2)["equivalent_activation_kj_mol"], 1)
    52.9
    >>> round(ageing_factor(35, 25, activation_kj_mol=83.144)["equivalent_q10"], 2)
    2.97
    """
    if (q10 is None) == (activation_kj_mol is None):
        raise ValueError("give either q10 or activation_kj_mol: they are two models, not to be mixed")
    # Both models agree where q10 = exp(10 Ea / (R T1 T2)).
    span = GAS_CONSTANT * (temperature_c + _ZERO_C) * (reference_c + _ZERO_C) / 10_000
    if q10 is not None:
        factor = q10 ** ((temperature_c - reference_c) / 10)
        return {"factor": factor, "equivalent_q10": q10, "equivalent_activation_kj_mol": span * math.log(q10)}
    assert activation_kj_mol is not None
    factor = math.exp(activation_kj_mol / span * (temperature_c - reference_c) / 10)
    return {
        "factor": factor,
        "equivalent_q10": math.exp(activation_kj_mol / span),
        "equivalent_activation_kj_mol": activation_kj_mol,
    }


def pot_life(
    pot_life_min: float,
    temperature_c: float,
    reference_c: float,
    q10: float | None = None,
    activation_kj_mol: float | None = None,
    mass_g: float | None = None,
    reference_mass_g: float | None = None,
) -> Mapping[str, float]:
    """Work out the pot life [min] at `temperature_c` [degC] of what keeps `pot_life_min` [min] at `reference_c` [degC].

    Mixed resin heats itself, the more so the more there is: a bigger mass than the stated one lives shorter than
    this says, and `optimistic` is then true. It is true, too, where either mass [g] is unknown.

    Source: common practice, no source ("halves for every 10 K" is q10 = 2).

    >>> pot_life(30, temperature_c=35, reference_c=25, q10=2, mass_g=10, reference_mass_g=100)
    {'pot_life_min': 15.0, 'optimistic': False}
    """
    factor = ageing_factor(temperature_c, reference_c, q10, activation_kj_mol)["factor"]
    unknown = mass_g is None or reference_mass_g is None
    return {
        "pot_life_min": pot_life_min / factor,
        "optimistic": unknown or (mass_g or 0.0) > (reference_mass_g or 0.0),
    }
