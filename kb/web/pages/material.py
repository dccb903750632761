"""What the words for a material are taken for, told while they are typed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import log10

from fastapi import APIRouter, Request
from starlette.responses import Response

from kb.base.errors import BadInput
from kb.base.units import degrees
from kb.knowledge import Knowledge
from kb.materials import resolve
from kb.materials.resolve import Resolved
from kb.rules.words import shown
from kb.web.desk import TheDesk
from kb.web.faults import MATERIAL, MOST_OFFERED
from kb.web.render import page

router = APIRouter()


@dataclass(frozen=True, slots=True)
class Scale:
    """One figure of a material as a bar: how far it reaches between two ends that hold nearly all materials."""

    label: str
    said: str
    low: float
    high: float
    at: float


@dataclass(frozen=True, slots=True)
class Taken:
    """What words are taken for: its name, its family, and the figures that decide most."""

    name: str
    family: str
    note: str
    scales: tuple[Scale, ...]


@router.get("/choose/material")
def material(request: Request, desk: TheDesk) -> Response:
    """What the material in the form is taken for, or what it may be; and suggestions by every name of it."""
    typed = request.query_params.get(MATERIAL, "").strip()[:200]
    taken, near = (None, [])
    if typed:
        taken = taken_for(typed, desk.known)
        near = [match.entry.name for match in resolve.offered(typed, desk.known)[0][:MOST_OFFERED]]
    return page(request, "material.html", typed=typed, taken=taken, near=near, suggest=True)


def taken_for(words: str, knowledge: Knowledge) -> Taken | None:
    """Tell what `words` are taken for; None where that isn't clear."""
    try:
        return taken_of(resolve.substrate(words, knowledge, MATERIAL))
    except BadInput:
        return None


def taken_of(found: Resolved) -> Taken:
    """Give a material that was found, with its figures as bars."""
    entry, notes = found.entry, []
    if len(found.members) > 1:
        notes.append(f"any of {len(found.members)} such materials: the cautious value of each counts")
    notes += found.said_of_the_rest()
    return Taken(entry.name, entry.family.replace("-", " "), "; ".join(notes), tuple(_scales(entry.facts)))


def _scales(facts: Mapping[str, object]) -> list[Scale]:
    found = []
    stiff, heat = facts.get("modulus_gpa"), facts.get("max_temperature_c")
    grows = facts.get("cte_ppm_per_c")
    if isinstance(stiff, int | float) and stiff > 0:
        # From soft rubber to carbide: five powers of ten.
        found.append(Scale("stiffness", f"{shown(float(stiff))} GPa", -2.0, 3.0, round(log10(stiff), 2)))
    if isinstance(grows, int | float):
        found.append(Scale("expansion", f"{shown(float(grows))} ppm/degC", 0.0, 250.0, float(grows)))
    if isinstance(heat, int | float):
        found.append(Scale("endures", f"{degrees(float(heat))} degC", 0.0, 1000.0, float(heat)))
    return found
