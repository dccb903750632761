"""Grit sizes: four scales that use the same numbers for different grains.

The tables are knowledge and stand in generic_catalog/grit_scales.toml, each with its basis.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Final

from kb.calc.spec import Input, Result, Spec, choice, shown, text

SCALES: Final = ("fepa-p", "cami", "jis", "fepa-f")
#: A grade farther off than this factor in mean size is no equivalent: half the widest step of any scale.
_FARTHEST: Final = 1.25
#: Where a size lies so near the middle (in logarithm) between two grades, as a share of their distance, neither
#: is nearer: table values are not known better. Then the finer one is named, which can't cut too deep.
_TIE: Final = 0.05


def _read_grade(value: object) -> str:
    """Read a grade as text; a whole number will do."""
    if isinstance(value, int) and not isinstance(value, bool):
        return str(value)
    return text(value)


SPECS: Final = {
    "grit-size": Spec(
        inputs={
            "scale": Input("fepa-p (P on paper), cami (American), jis (#) or fepa-f (F, bonded)", choice(*SCALES)),
            "grade": Input("as printed on the back, such as '400' or 'P400'", _read_grade),
        },
        results={
            "mean_um": "um, mean grain",
            "basis": "where mean_um stands: dataset, or memory (recalled, to be confirmed)",
            "equivalents": "the nearest grade on each other scale; null where none is within a quarter of the size",
            "also_near": "scales on which a coarser grade is as near as the one named",
        },
        example={"scale": "cami", "grade": "500"},
        source="tables in generic_catalog/grit_scales.toml, each with its basis; nearest by logarithm of mean grain",
        sources=("grit-size-table-2008",),
    )
}


@dataclass(frozen=True, slots=True)
class Scale:
    """One scale: the mark before its numbers, mean grain [um] by number, and the basis of each."""

    mark: str
    mean_um: Mapping[str, float]
    basis: Mapping[str, str]


@cache
def _scales() -> dict[str, Scale]:
    from kb.base.places import shipped

    path = shipped()[1] / "grit_scales.toml"
    found = {}
    for scale in tomllib.loads(path.read_text(encoding="utf-8"))["scales"]:
        sizes = {number: um for table in scale["tables"] for number, um in table["mean_um"].items()}
        basis = {number: table["basis"] for table in scale["tables"] for number in table["mean_um"]}
        found[scale["id"]] = Scale(scale["mark"], sizes, basis)
    return found


def grit_size(scale: str, grade: str) -> Result:
    """Give the mean grain [um] of `grade` on `scale`, and the nearest grade on each of the other scales.

    A grade with another scale's mark ("P400" on cami) raises ValueError, and so does one that the scale lacks.

    Source: grit-size-table-2008 for the grades with basis dataset; the others are from memory.

    >>> found = grit_size("cami", "400")
    >>> found["mean_um"], found["equivalents"]["fepa-p"]
    (23.0, 'P800')
    >>> [grit_size(scale, "400")["mean_um"] for scale in SCALES]
    [35.0, 23.0, 30.0, 17.3]
    """
    scales = _scales()
    number = _number(scale, grade)
    mean_um = scales[scale].mean_um[number]
    equivalents: dict[str, str | None] = {}
    also_near: dict[str, str] = {}
    for other in SCALES:
        if other != scale:
            equivalents[other], tied = _nearest(mean_um, scales[other])
            if tied:
                also_near[other] = tied
    return {
        "mean_um": mean_um,
        "basis": scales[scale].basis[number],
        "equivalents": equivalents,
        "also_near": also_near,
    }


def _number(scale: str, grade: str) -> str:
    """Read the grade's number, its mark taken off and checked."""
    scales = _scales()
    number = grade.strip().upper().lstrip("PF#").strip()
    mark = grade.strip().upper().removesuffix(number).strip()
    if mark not in ("", scales[scale].mark):
        owner = next((name for name, known in scales.items() if known.mark == mark), "no scale")
        raise ValueError(f"grade {shown(grade)} is written for {owner}, not for {scale}")
    if number not in scales[scale].mean_um:
        known = sorted(scales[scale].mean_um, key=int)
        raise ValueError(f"{scale} has no grade {shown(grade)}; it has {', '.join(known)}")
    return number


def _nearest(mean_um: float, scale: Scale) -> tuple[str | None, str]:
    """Find the grade nearest to `mean_um` by logarithm, and the coarser one where the two are as near, else ""."""
    apart = sorted((abs(math.log(um / mean_um)), um, number) for number, um in scale.mean_um.items())
    (near, um, number), (next_near, next_um, next_number) = apart[:2]
    if near > math.log(_FARTHEST):
        return None, ""
    tied = (um < mean_um) != (next_um < mean_um) and next_near - near < _TIE * (near + next_near)
    if not tied:
        return scale.mark + number, ""
    finer, coarser = sorted((um, number) for um, number in ((um, number), (next_um, next_number)))
    return scale.mark + finer[1], scale.mark + coarser[1]
