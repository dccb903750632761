"""The layers of a chain as a cross-section, narrow as a phone: the part, what is bonded to it, what lies over that."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from dataclasses import dataclass

from kb.engine.chain import Chain
from kb.engine.plan import Plan
from kb.knowledge import Entry
from kb.report.pictures.drawing import PHONE, Picture, drawn
from kb.rules.words import shown

_TOP, _BAND, _LAYER, _PART, _INSET, _LINE = 34, 24, 18, 46, 16, 17
#: So many letters fit into a line of the legend.
_LETTERS = 47
#: The layers from the part outwards: the slot, what it is in the stack, and what it does there.
_LAYERS = (
    ("treatment", "treatment", "readies the surface"),
    ("adhesive", "adhesive", "carries the strain into the gauge"),
    ("backing", "gauge", "holds the grid and keeps it from the part"),
)


@dataclass(frozen=True, slots=True)
class Layer:
    """One layer: what it is, of what, how thick, and what it is for."""

    role: str
    name: str
    thick: str
    purpose: str

    def words(self) -> str:
        """Give the layer as a sentence."""
        return ", ".join(filter(None, (f"{self.role}: {self.name}", self.thick, self.purpose)))


def layers(plan: Plan, chain: Chain) -> Iterator[Layer]:
    """Give the layers from the part outwards, and the cable."""
    thick = plan.job.part.thickness_mm
    yield Layer("part", plan.substrate.name, "thickness not said" if thick is None else f"{shown(thick)} mm", "")
    for slot, role, purpose in _LAYERS:
        entry = chain.pick(slot).entry
        if entry is not None:
            yield Layer(role, entry.name, _thick(entry), purpose)
    wire = chain.pick("wire").entry
    if wire is not None:
        yield Layer("cable", wire.name, "", "leaves through the coats")
    for number, coat in enumerate(chain.coatings, start=1):
        purpose = "on the gauge" if number == 1 else "over the coat below"
        yield Layer(f"coat {number}", coat.name, _thick(coat), purpose)


def _thick(entry: Entry) -> str:
    um = entry.facts.get("bond_line_um", entry.facts.get("thickness_um"))
    if not isinstance(um, int | float):
        return ""
    return f"{shown(float(um))} um" if um < 1000 else f"{shown(um / 1000)} mm"


def stack_picture(plan: Plan, chain: Chain) -> Picture:
    """Give the cross-section with a number in each layer, and below it what the numbers are."""
    found = list(layers(plan, chain))
    place = {layer.role: n for n, layer in enumerate(found, start=1)}
    coats = [layer.role for layer in found if layer.role.startswith("coat ")]
    glued = [role for role in ("adhesive", "gauge") if role in place]
    base = _TOP + _BAND * max(1, len(coats)) + _LAYER * len(glued) + 4
    inner = _INSET * (len(coats) + 1) + 12
    legend, y = [], base + _PART + 26
    for n, layer in enumerate(found, start=1):
        for k, line in enumerate(textwrap.wrap(f"{n} {layer.words()}", _LETTERS, subsequent_indent="  ")):
            legend.append((12 if k else 2, y, line.strip()))
            y += _LINE
        y += 3
    return drawn(
        "picture_stack.svg",
        "stack",
        "The layers, not to scale",
        [layer.words() for layer in found],
        width=PHONE,
        height=y - _LINE + 8,
        base=base,
        part=(base, _PART, place["part"]),
        treatment=place.get("treatment"),
        # The outermost first, so that the inner ones lie on it.
        coats=[
            (_INSET * (len(coats) - k + 1), _TOP + _BAND * (len(coats) - k - 1), place[role])
            for k, role in reversed(list(enumerate(coats)))
        ],
        layers=[(base - _LAYER * (k + 1), place[role], role) for k, role in enumerate(glued)],
        inner=inner,
        layer=_LAYER,
        cable=place.get("cable"),
        legend=legend,
    )
