"""What each layer of a chain does to the part: strain locked in by unequal expansion, and stiffness added."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from dataclasses import dataclass

from kb.base.units import degrees
from kb.calc import function
from kb.engine.chain import Chain
from kb.engine.plan import Plan
from kb.report.pictures.drawing import LETTERS, PHONE, Picture, Scale, drawn, noted
from kb.rules.clauses import Facts
from kb.rules.words import shown

_TOP, _ROW = 78, 64
_STRAIN, _STIFF = (8, 148), (206, 270)


@dataclass(frozen=True, slots=True)
class Layer:
    """One layer: mismatch strain at the job's coldest and hottest [microstrain], and its share of the part's stiffness.

    None where a fact is missing, and then `missing` names it.
    """

    name: str
    role: str
    cold_ue: float | None
    hot_ue: float | None
    ratio: float | None
    missing: tuple[str, ...] = ()

    def words(self) -> str:
        """Give the layer as a sentence."""
        strain = "mismatch not known"
        if self.cold_ue is not None and self.hot_ue is not None:
            strain = f"mismatch {self.cold_ue:+.0f} microstrain at the coldest, {self.hot_ue:+.0f} at the hottest"
        stiff = "stiffening not known" if self.ratio is None else f"{_percent(self.ratio)} of the part's stiffness"
        lacks = f" (not known: {', '.join(self.missing)})" if self.missing else ""
        return f"{self.role}, {self.name}: {strain}; {stiff}{lacks}"


def mismatch_ue(cte_layer_ppm: float, cte_part_ppm: float, cured_c: float, service_c: float) -> float:
    """Strain [microstrain] that a layer is held stretched by at `service_c`, having set without stress at `cured_c`.

    Expansions in [1e-6/K]. Positive: the layer would be shorter than the part lets it. Source: arithmetic.

    >>> mismatch_ue(90, 15, cured_c=23, service_c=3)
    1500
    """
    return (cte_layer_ppm - cte_part_ppm) * (cured_c - service_c)


def layers(plan: Plan, chain: Chain) -> Iterator[Layer]:
    """Give the layers from the part outwards: adhesive, backing, coats."""
    cure = chain.cure
    bonded_c = cure["hottest_c"] if cure else None
    for slot in ("adhesive", "backing", "coating_1", "coating_2", "coating_3"):
        entry = chain.pick(slot).entry
        if entry is None:
            continue
        facts = entry.facts
        set_at = facts.get("cure_temperature_c") if slot.startswith("coating") else bonded_c
        thickness = facts.get("bond_line_um") if slot == "adhesive" else facts.get("thickness_um")
        role = f"coat {slot[-1]}" if slot.startswith("coating") else slot
        yield _layer(plan, entry.name, role, facts, set_at, thickness)


def _layer(plan: Plan, name: str, role: str, facts: Facts, set_at: float | None, thickness_um: float | None) -> Layer:
    low, high = plan.job.service.temperature_c
    part, thick = plan.substrate.facts, plan.job.part.thickness_mm
    own, ground = facts.get("cte_ppm_per_c"), part.get("cte_ppm_per_c")
    modulus, base = facts.get("modulus_gpa"), part.get("modulus_gpa")
    known = {
        "expansion of the layer": own,
        "expansion of the part": ground,
        "modulus of the layer": modulus,
        "modulus of the part": base,
        "thickness of the layer": thickness_um,
        "thickness of the part": thick,
    }
    cold = hot = ratio = None
    if own is not None and ground is not None and set_at is not None:
        cold, hot = (mismatch_ue(own, ground, set_at, service) for service in (low, high))
    if modulus is not None and base is not None and thickness_um is not None and thick is not None:
        layer = {"modulus_gpa": modulus, "thickness_mm": thickness_um / 1000}
        ratio = function("stiffening")(part={"modulus_gpa": base, "thickness_mm": thick}, layers=[layer])["ratio"]
    return Layer(name, role, cold, hot, ratio, tuple(what for what, value in known.items() if value is None))


def layers_picture(plan: Plan, chain: Chain) -> Picture:
    """Draw two panels, a row for each layer.

    They show the mismatch strain at both ends of the job, and the share of the part's stiffness.
    """
    found = list(layers(plan, chain))
    strains = [abs(s) for one in found for s in (one.cold_ue, one.hot_ue) if s is not None]
    reach = max([*strains, 1.0]) * 1.05
    strain = Scale(-reach, reach, *_STRAIN)
    stiff = Scale(0, max([one.ratio for one in found if one.ratio is not None], default=0.01) * 105 or 1.0, *_STIFF)
    low, high = plan.job.service.temperature_c
    bottom = _TOP + _ROW * len(found)
    note = noted(
        f"Solid: from the cure to {degrees(low)} degC. Hatched: to {degrees(high)} degC. Positive: the layer is held "
        "stretched. Elastic, so an upper estimate.",
        bottom + 22,
    )
    note += noted(
        "Stiffness: modulus times thickness, in per cent of the part's, as if the layer covered it. The foil of the "
        "grid is not counted.",
        note[-1][0] + 20,
    )
    return drawn(
        "picture_layers.svg",
        "layers",
        "Thermal mismatch and stiffening by layer",
        [
            f"Mismatch is counted from the cure to {degrees(low)} and {degrees(high)} degC; positive: held stretched",
            "Stiffening is modulus times thickness over the part's, as if the layer covered it; no foil is counted",
            *(one.words() for one in found),
        ],
        width=PHONE,
        height=note[-1][0] + 8,
        rows=[_row(one, strain, stiff, _TOP + _ROW * n) for n, one in enumerate(found)],
        strain_ticks=[(strain.at(t), shown(t)) for t in strain.ticks(2)],
        stiff_ticks=[(stiff.at(t), shown(t)) for t in stiff.ticks(1)],
        zero=strain.at(0),
        left=_STRAIN[0],
        stiff_left=_STIFF[0],
        top=_TOP,
        bottom=bottom,
        note=note,
    )


def _row(layer: Layer, strain: Scale, stiff: Scale, y: int) -> dict[str, object]:
    bars = []
    for offset, value, kind in ((26, layer.cold_ue, "cold"), (42, layer.hot_ue, "hot")):
        if value is not None:
            x, zero = strain.at(value), strain.at(0)
            bars.append(
                {
                    "y": y + offset,
                    "x": min(x, zero),
                    "wide": round(abs(x - zero), 1),
                    "kind": kind,
                    "said": f"{value:+.0f}",
                }
            )
    ratio = None
    if layer.ratio is not None:
        ratio = {"wide": round(stiff.at(layer.ratio * 100) - stiff.left, 1), "said": _percent(layer.ratio)}
    name = textwrap.shorten(f"{layer.role}: {layer.name}", LETTERS, placeholder=" …")
    return {"y": y, "name": name, "bars": bars, "ratio": ratio}


def _percent(ratio: float) -> str:
    return f"{ratio * 100:.2g} %"
