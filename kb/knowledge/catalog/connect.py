"""What joins the gauge to its cable, what is used for that, and the cable itself."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from kb.base.models import Celsius, NotNegative, Positive, Resists, Span
from kb.knowledge.catalog.base import Item, Mixture

#: What the end of a wire is made of, as far as that decides how it can be joined.
Conductor = Literal[
    "copper", "tinned-copper", "silver-plated-copper", "nickel-plated-copper", "nickel", "nickel-chromium"
]


class Solder(Mixture):
    """A way to join a lead to a wire: a solder alloy, a weld, a crimp or a conductive adhesive."""

    kind = "solder"

    method: Literal["solder", "weld", "crimp", "adhesive"]
    melts_at_c: Celsius | None = Field(None, description="solidus: melting begins")
    flows_at_c: Celsius | None = Field(None, description="liquidus: it wets")
    joint_at_c: Celsius = Field(description="how hot the joint gets while it is made")
    min_c: Celsius = Field(description="long-term lower limit of the joint")
    max_c: Celsius = Field(description="long-term upper limit of the joint")
    short_max_c: Celsius | None = None
    joins: tuple[Conductor, ...] = Field(min_length=1, description="conductors that it holds on to")
    needs_flux: bool
    organic: bool = False
    ductile: bool | None = Field(None, description="gives way in thermal cycles and in the cold instead of cracking")
    dissolves_copper: Literal["slow", "fast"] | None = Field(None, description="how fast it eats a thin copper tab")
    outgassing_tml_pct: NotNegative | None = None
    outgassing_cvcm_pct: NotNegative | None = None
    cure_temperature_c: Celsius | None = Field(None, description="of a conductive adhesive")
    full_cure_min: NotNegative = 0.0
    minutes: NotNegative = Field(6.0, description="hands-on minutes for the joints of one gauge")
    special_equipment: bool = False
    shelf_life_months: Positive | None = None
    storage_c: Span | None = None
    opened_life_days: Positive | None = None
    pack_g: Positive | None = None
    pack_count: Positive | None = None


class Flux(Mixture):
    """What takes the oxide off a joint; what it leaves has to come off again."""

    kind = "flux"

    acts_on: tuple[Conductor, ...] = Field(min_length=1, description="conductors that solder wets with it")
    active_to_c: Celsius = Field(description="hotter than this it chars before the solder flows")
    residue: Literal["inert", "tacky", "conducting", "corrosive"] = Field(description="what stays if it is not removed")
    removed_with: tuple[str, ...] = Field(min_length=1, description="degreaser families that take it off; or water")
    halide: bool = Field(False, description="holds chloride or bromide")
    gives_off: tuple[Literal["amine", "none"], ...] = ()
    minutes: NotNegative = Field(2.0, description="hands-on minutes for one gauge, its removal included")
    shelf_life_months: Positive | None = None
    storage_c: Span | None = None
    opened_life_days: Positive | None = None
    pack_ml: Positive | None = None


class Wire(Item):
    """A wire or cable from the gauge onwards."""

    kind = "wire"

    conductor: Conductor
    insulation: Literal[
        "pvc", "polyurethane", "polyimide", "ptfe", "glass", "silicone", "polyethylene", "mineral", "none"
    ]
    min_c: Celsius
    max_c: Celsius
    short_max_c: Celsius | None = None
    stranded: bool = Field(description="strands draw liquid along like a wick")
    cable: bool = Field(
        description="several cores in a sheath, to go to the instrument; else a lead for the first span"
    )
    coats_hold: bool = Field(description="a coat sticks to its outside without treatment")
    moves: Literal["fixed", "some", "continuous"] | None = Field(None, description="how much bending it lives with")
    insulates: bool = True
    sealed: bool = Field(False, description="made up with the gauge, its end closed: no joint at the gauge")
    organic: bool = True
    resists: Resists = Field(default_factory=dict)
    outgassing_tml_pct: NotNegative | None = None
    outgassing_cvcm_pct: NotNegative | None = None
    minutes: NotNegative = Field(3.0, description="hands-on minutes for one gauge: cut, strip, tin, tie down")
    pack_count: Positive | None = Field(None, description="cm on a reel")
