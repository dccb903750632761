"""What bonds the gauge and what covers it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import Field, model_validator

from kb.base.models import Celsius, Id, Level, NotNegative, Percent, Positive, Resists, Span, Strict
from kb.knowledge.catalog.base import Hansen, Item, Mixture, Vapour, cautious

#: How fast a part is heated and cooled, where nothing else is stated [degC/min]: common practice; the slow end counts.
WARMING = (2.0, 5.0)


class Backing(Item):
    kind = "backing"

    min_c: Celsius
    max_c: Celsius
    short_max_c: Celsius | None = None
    cure_max_c: Celsius = Field(description="the hottest cure that it stands")
    thickness_um: NotNegative
    modulus_gpa: Positive | None = None
    cte_ppm_per_c: float | None = None
    elongation_pct: Positive | None = None
    fatigue: Literal["low", "medium", "high"] | None = Field(None, description="life in cyclic strain")
    bonds_with: tuple[str, ...] = Field(description="adhesive families that bond it")
    bonds_also_with: tuple[str, ...] = Field((), description="families that hold on it, and that it isn't made for")
    insulates: bool
    conformable: bool
    water_uptake: Level | None = None
    resists: Resists = Field(default_factory=dict)
    organic: bool = True
    handling: Literal["easy", "fragile", "special-tools"] = "easy"
    attached_by: Literal["adhesive", "weld"] = Field("adhesive", description="what holds it to the part")
    hermetic: bool = Field(False, description="the grid is sealed in metal, its cable made up with it")


class Schedule(Strict):
    """One way to cure. Longer and cooler, or shorter and hotter, along the class's schedule."""

    id: Id
    temperature_c: Celsius
    duration_min: Positive = Field(description="under pressure or in the oven")
    then_min: NotNegative = Field(0.0, description="further wait before it is coated or loaded")
    full_strength_min: Positive
    post_cure_c: Celsius | None = None
    post_cure_min: NotNegative = 0.0
    service_max_c: Celsius = Field(description="long-term limit that this cure reaches")
    short_max_c: Celsius | None = None
    pressure_kpa: Span | None = None
    warms_c_per_min: Span = Field(WARMING, description="how fast the part is heated and cooled")

    @model_validator(mode="before")
    @classmethod
    def _for_hours(cls, data: Any) -> Any:
        """Take what is stood for life as stood for hours, unless a further figure is given."""
        if not isinstance(data, Mapping) or "service_max_c" not in data:
            return data
        return {"short_max_c": data["service_max_c"], **data}


class Adhesive(Mixture):
    kind = "adhesive"

    parts: Literal[1, 2]
    made_for: tuple[Literal["vacuum", "deep-cold", "wet-surfaces", "heat"], ...] = Field(
        (), description="what a special grade is kept for; empty for an ordinary one"
    )
    form: Literal["liquid", "paste", "film", "slurry"]
    viscosity: Level | None = None
    schedules: tuple[Schedule, ...] = Field(min_length=1)
    min_c: Celsius = Field(description="long-term lower limit")
    short_min_c: Celsius | None = None
    elongation_pct: Positive | None = Field(None, description="strain limit at room temperature")
    cold_elongation_pct: Positive | None = None
    creep: Level | None = Field(None, description="creep of zero under steady strain near room temperature")
    fatigue: Level | None = None
    gap_fill_um: NotNegative | None = None
    bond_line_um: Positive | None = None
    modulus_gpa: Positive | None = None
    cte_ppm_per_c: float | None = None
    shrinkage_pct: NotNegative | None = None
    humidity_window_pct: Span | None = Field(None, description="relative humidity of the room while it cures")
    part_window_c: Span | None = Field(None, description="part temperature at bonding")
    clamping: Literal["thumb-only", "weights-only", "any", "none"] = Field(
        description="the least that will hold it: thumb, weights, or a clamp (any); none: no pressure at all"
    )
    wets_from_mn_m: Positive | None = Field(None, description="lowest critical surface tension it wets")
    pot_life_min: Positive | None = Field(None, description="at 25 degC and pot_mass_g")
    pot_mass_g: Positive | None = None
    mix_ratio: tuple[Positive, Positive] | None = Field(None, description="resin to hardener by mass")
    rate_q10: Positive | None = Field(None, description="how many times faster per 10 degC")
    amine_cured: bool = False
    inhibited_by: tuple[Literal["amine", "sulfur", "tin", "moisture", "oxygen", "acid", "alkali"], ...] = ()
    gives_off: tuple[str, ...] = ()
    vapours: tuple[Vapour, ...] | None = Field(
        None, description="what it gives off to the air; left out: what of its composition evaporates"
    )
    contains_solvent: bool = False
    needs_light: bool = False
    needs_moisture: bool = False
    attacks_plastics: bool | None = Field(None, description="its monomer crazes amorphous plastics")
    hansen: Hansen | None = None
    organic: bool = True
    blooms: bool = Field(False, description="leaves a white deposit beside the bond")
    solvent_safe_min: NotNegative | None = Field(
        None, description="minutes after the cure before a solvent-borne coat may go over it"
    )
    resists: Resists = Field(default_factory=dict)
    outgassing_tml_pct: NotNegative | None = Field(None, description="median of tests of its class")
    outgassing_cvcm_pct: NotNegative | None = None
    outgassing_tests: Positive | None = None
    outgassing_passes_pct: Percent | None = Field(None, description="share of them within 1.0 and 0.10 %")
    insulation_at_high_c: Celsius | None = Field(None, description="insulates up to here")
    shelf_life_months: Positive | None = None
    storage_c: Span | None = None
    opened_life_days: Positive | None = None
    thawed_life_h: Positive | None = None
    life_activation_kj_mol: Positive | None = None
    pack_g: Positive | None = None


class Coating(Mixture):
    kind = "coating"

    layers: tuple[Literal["inner", "barrier", "cover"], ...] = Field(
        min_length=1, description="inner: may touch a live grid; barrier: stops vapour; cover: takes knocks"
    )
    insulates: bool
    min_c: Annotated[Celsius, cautious("high")]
    max_c: Annotated[Celsius, cautious("low")]
    short_min_c: Celsius | None = None
    short_max_c: Annotated[Celsius | None, cautious("low")] = None
    touch_dry_min: Annotated[NotNegative, cautious("high")] = Field(description="until it is dry to the touch")
    full_cure_min: Annotated[NotNegative, cautious("high")]
    recoat_min: Annotated[NotNegative | None, cautious("high")] = Field(
        None, description="until a second coat of its family may follow; left out: once it is cured through"
    )
    cure_temperature_c: Celsius
    warms_c_per_min: Span = Field(WARMING, description="how fast the part is heated and cooled, where it is baked")
    applies_from_c: Celsius | None = Field(None, description="coldest part on which it still wets and sticks")
    applies_to_c: Celsius | None = Field(None, description="warmest part on which it may be put")
    thickness_um: Positive
    density_g_cm3: Positive | None = Field(None, description="of what stays")
    volume_resistivity_ohm_cm: Positive | None = None
    dielectric_kv_mm: Positive | None = None
    vapour_g_mm_m2_d: Positive | None = Field(
        None, description="water vapour through a millimetre of it, warm and damp outside, dry inside"
    )
    water_uptake_pct: NotNegative | None = Field(None, description="mass % at saturation")
    modulus_gpa: Positive | None = None
    cte_ppm_per_c: float | None = None
    elongation_pct: Annotated[Positive | None, cautious("low")] = None
    vapours: tuple[Vapour, ...] | None = Field(
        None, description="what it gives off to the air; left out: what of its composition evaporates"
    )
    contains_solvent: bool
    solvent_strength: Literal["none", "mild", "strong"]
    by_products: tuple[Literal["acetic-acid", "alcohol", "oxime", "amine", "water", "none"], ...]
    inhibited_by: tuple[Literal["amine", "sulfur", "tin", "moisture", "oxygen", "none"], ...] = ()
    gives_off: tuple[Literal["amine", "sulfur", "tin", "plasticiser", "oil", "silicone-oil", "none"], ...] = ()
    corrosive_to: tuple[str, ...] = Field((), description="substrate families that it corrodes; copper: grid and leads")
    sticks_over: tuple[str, ...] | None = Field(None, description="coating families that it holds on to; left out: any")
    holds_little_over: tuple[str, ...] = Field(
        (), description="families from which it can be peeled, and which it seals"
    )
    water_vapour: Literal["open", "slow", "barrier"] = Field(description="how freely vapour goes through its thickness")
    mechanical: Literal["none", "light", "firm"]
    resists: Resists
    organic: bool = True
    removable: bool | None = None
    parts: Literal[1, 2] = 1
    pot_life_min: Annotated[Positive | None, cautious("low")] = None
    mix_ratio: tuple[Positive, Positive] | None = None
    outgassing_tml_pct: NotNegative | None = Field(None, description="median of tests of its class")
    outgassing_cvcm_pct: NotNegative | None = None
    outgassing_tests: Positive | None = None
    outgassing_passes_pct: Percent | None = Field(None, description="share of them within 1.0 and 0.10 %")
    minutes: NotNegative = Field(5.0, description="hands-on minutes for one gauge")
    special_equipment: bool = False
    applied_as: (
        Literal["brush", "dispense", "knead", "melt", "vapour", "trowel", "wrap", "shrink", "spray", "fit"] | None
    ) = None
    melts_at_c: Celsius | None = Field(None, description="applied molten")
    shelf_life_months: Positive | None = None
    storage_c: Span | None = None
    opened_life_days: Positive | None = None
    life_activation_kj_mol: Positive | None = None
    pack_g: Positive | None = None
