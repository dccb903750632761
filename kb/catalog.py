"""Catalog items: one model per kind, and how a TOML file becomes one.

An item is a generic member of a family: class values, never a product. A field that is left out is
unknown, and rules treat it so; a field that can't apply is left out too, and the rules that would read it
first ask whether it can (a metal has no solubility parameters, and `organic = false` says so).

A lab's own item may start from a catalog item: `like = "generic-id"` takes over every field that it
doesn't give itself.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

from kb import vocabulary as v

Id = Annotated[str, Field(pattern=r"^[a-z0-9]+(-[a-z0-9.]+)*$", max_length=60)]
Text = Annotated[str, Field(min_length=1, max_length=600)]
Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0, allow_inf_nan=False)]
Celsius = Annotated[float, Field(ge=-273.15, le=3000, allow_inf_nan=False)]
Percent = Annotated[float, Field(ge=0, le=100)]
Basis = Literal["standard", "handbook", "dataset", "computed", "common-practice", "memory"]
Resistance = Literal["good", "fair", "poor"]
Level = Literal["low", "medium", "high"]
#: Low and high end of a range, in the unit that the field's name ends in.
Span = Annotated[tuple[float, float], Field(description="[low, high]")]


class Strict(BaseModel):
    """Frozen, and closed: a field that the model doesn't know is an error, never dropped."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class Citation(Strict):
    """What a statement rests on: a source in sources.toml and the place in it."""

    id: Id
    locator: str = ""


class FieldBasis(Strict):
    """The basis of some of an item's values, where it isn't that of the item as a whole."""

    fields: tuple[str, ...] = Field(min_length=1)
    basis: Basis
    source: Id | None = None
    locator: str = ""


class Hansen(Strict):
    """Solubility parameters in MPa^0.5; `radius` is that of a polymer's sphere."""

    d: NotNegative
    p: NotNegative
    h: NotNegative
    radius: Positive | None = None


class Share(Strict):
    """One substance of a mixture, by mass."""

    substance: Id
    share_pct: Percent


class Item(Strict):
    """What every item has."""

    id: Id
    name: Text
    family: str
    aliases: tuple[str, ...] = ()
    summary: str = Field("", max_length=400)
    basis: Basis
    sources: tuple[Citation, ...] = ()
    field_basis: tuple[FieldBasis, ...] = ()
    hazards: tuple[str, ...] = Field((), description="hazards that a user may exclude")
    #: Low and high end met in the class, by field name; the field itself holds the cautious end.
    ranges: dict[str, Span] = Field(default_factory=dict)
    house: bool = Field(False, description="a lab's own item, under the lab's own name")
    like: Id | None = Field(None, description="the generic item that a house item is a member of")

    @model_validator(mode="after")
    def _closed_lists(self) -> Self:
        kind = kind_of(type(self))
        if self.family not in v.FAMILIES[kind]:
            raise ValueError(f"family: '{self.family}' is not a family of {kind}")
        for hazard in self.hazards:
            if hazard not in v.HAZARDS:
                raise ValueError(f"hazards: '{hazard}' is not one of {', '.join(v.HAZARDS)}")
        for name, (low, high) in self.ranges.items():
            value = getattr(self, name, None)
            if value is None:
                raise ValueError(f"ranges.{name}: the item has no value of that name")
            if not low <= value <= high:
                raise ValueError(f"ranges.{name}: {value} is outside {low} to {high}")
        for exposure in getattr(self, "resists", {}):
            if exposure not in v.EXPOSURES:
                raise ValueError(f"resists: '{exposure}' is not an exposure")
        if self.basis in v.CITED_BASES and not self.sources:
            raise ValueError(f"basis: '{self.basis}' needs at least one entry in sources")
        return self


class Substrate(Item):
    """What a gauge is bonded to."""

    organic: bool
    metallic: bool
    polymer_structure: Literal["amorphous", "semicrystalline", "thermoset", "elastomer", "not-a-polymer"]
    modulus_gpa: Positive | None = None
    poisson: Annotated[float, Field(gt=-1, le=0.5)] | None = None
    cte_ppm_per_c: float | None = None
    max_temperature_c: Celsius | None = Field(None, description="endured for hours while an adhesive cures")
    glass_transition_c: Celsius | None = None
    surface_tension_mn_m: Positive | None = Field(None, description="critical surface tension of wetting, clean")
    hansen: Hansen | None = None
    density_g_cm3: Positive | None = None
    thermal_conductivity_w_mk: Positive | None = None
    porous: bool | None = None
    conductive: bool | None = None
    magnetic: bool | None = None
    brittle: bool | None = None
    flexible: bool | None = Field(None, description="bends or stretches by hand: film, rubber, foam")
    hardness: Literal["very-soft", "soft", "medium", "hard", "very-hard"] | None = None
    finish: Literal["glossy", "smooth", "medium", "rough", "open"] | None = None
    acid_sensitive: bool | None = Field(None, description="a mild acid etches, foams or darkens it")
    alkali_sensitive: bool | None = None
    ammonia_sensitive: bool | None = Field(None, description="cracks under stress in ammonia")
    chlorinated_sensitive: bool | None = Field(None, description="halides crack it or its fines react")
    water_sensitive: bool | None = Field(None, description="swells, softens, rusts or takes up water")
    heat_softens: bool | None = None
    reactive_fines: bool | None = Field(None, description="its dust or chips burn or react with solvents")
    dust_hazard: tuple[Literal["silica", "lead", "beryllium", "magnesium", "titanium", "aluminium", "zinc",
                               "fibre", "carbon-fibre", "cobalt", "nickel", "chromium", "wood", "asbestos-era",
                               "biological", "copper", "cadmium"], ...] = ()  # fmt: skip
    fibre: Literal["none", "carbon", "glass", "aramid", "natural"] = "none"
    crazed_by: tuple[str, ...] | None = Field(None, description="degreaser families known to craze or crack it")
    stress_crazed_by: tuple[str, ...] | None = Field(None, description="families that craze it only under stress")
    swollen_by: tuple[str, ...] | None = Field(None, description="degreaser families known to swell or dissolve it")
    gives_off: tuple[Literal["plasticiser", "sulfur", "amine", "tin", "oil", "moisture", "salts", "none"], ...] = ()
    carries_parts: bool = Field(False, description="usually carries electronic parts")
    thin_layer: bool = Field(False, description="a coat on something else: paint, plating, mask")

    @model_validator(mode="after")
    def _families(self) -> Self:
        for name in (*(self.crazed_by or ()), *(self.stress_crazed_by or ()), *(self.swollen_by or ())):
            if name not in v.FAMILIES["degreaser"]:
                raise ValueError(f"crazed_by / swollen_by: '{name}' is not a degreaser family")
        return self


class Liquid(Item):
    """What degreasers, conditioners and neutralisers share."""

    composition: tuple[Share, ...] = ()
    water_based: bool
    ph: Annotated[float, Field(ge=-1, le=15)] | None = None
    residue: Literal["none", "trace", "film"] | None = None
    needs_rinse: bool | None = None
    dry_min: NotNegative | None = Field(None, description="minutes in still air until a wiped film is gone")
    shelf_life_months: Positive | None = None
    storage_c: Span | None = None
    opened_life_days: Positive | None = None
    pack_ml: Positive | None = None

    @model_validator(mode="after")
    def _shares(self) -> Self:
        total = sum(s.share_pct for s in self.composition)
        if total > 100.5:
            raise ValueError(f"composition: the shares add up to {total:g} %")
        return self


class Degreaser(Liquid):
    evaporation: Literal["fast", "medium", "slow"] | None = None
    flash_point_c: float | None = Field(None, description="of the mixture; left out where none is measured")
    flammable: bool
    hansen: Hansen | None = None
    dissolves_flux: bool | None = None
    attacks_copper: bool | None = None


class Conditioner(Liquid):
    acid: bool
    chloride: bool = False


class Neutraliser(Liquid):
    ammonia: bool


class Abrasive(Item):
    mineral: Literal["silicon-carbide", "alumina", "diamond", "pumice", "glass", "garnet", "none"]
    form: Literal["paper", "pad", "film", "blast", "powder", "grinder"]
    scale: Literal["fepa-p", "cami", "jis", "fepa-f", "none"]
    grade: str = ""
    mean_um: Positive | None = None
    use_dry: bool
    use_wet: bool
    dust: bool = Field(True, description="raises dust when used dry")
    embeds: bool | None = Field(None, description="grains stay in soft surfaces")
    ferrous: bool = False
    steps_per_part: NotNegative = 1
    minutes: NotNegative = Field(2.0, description="minutes for one gauge position")
    pack_cm2: Positive | None = None


class Treatment(Item):
    of: Literal["part", "gauge"]
    treats: tuple[str, ...] = Field((), description="substrate families that it is for")
    serves: tuple[str, ...] = Field((), description="adhesive families that it is for; empty: any")
    activates: bool = Field(description="makes a low-energy surface wettable")
    fills: bool = Field(description="closes pores")
    couples: bool = Field(False, description="chemical bridge to glass, oxide or metal")
    lasts_h: Positive | None = Field(None, description="bond within so many hours")
    min_wait_min: NotNegative | None = Field(None, description="wait before the adhesive goes on")
    minutes: NotNegative = 5.0
    process_temperature_c: Celsius | None = None
    max_service_c: Celsius | None = Field(None, description="limit of what it leaves behind")
    min_service_c: Celsius | None = None
    conducts_liquid: bool = Field(False, description="a liquid that runs: keep off connectors and pores")
    electrostatic: bool = Field(False, description="discharge: not beside live or sensitive parts")
    open_flame: bool = False
    shelf_life_months: Positive | None = None
    storage_c: Span | None = None
    opened_life_days: Positive | None = None
    composition: tuple[Share, ...] = ()
    pack_ml: Positive | None = None


class Backing(Item):
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
    insulates: bool
    conformable: bool
    water_uptake: Level | None = None
    resists: dict[str, Resistance] = Field(default_factory=dict)
    organic: bool = True
    handling: Literal["easy", "fragile", "special-tools"] = "easy"


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


class Adhesive(Item):
    parts: Literal[1, 2]
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
    glass_transition_c: Celsius | None = None
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
    composition: tuple[Share, ...] = Field((), description="what evaporates from it")
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
    moisture_resistance: Literal["poor", "fair", "good"] | None = None
    resists: dict[str, Resistance] = Field(default_factory=dict)
    outgassing_tml_pct: NotNegative | None = None
    outgassing_cvcm_pct: NotNegative | None = None
    insulation_at_high_c: Celsius | None = Field(None, description="insulates up to here")
    shelf_life_months: Positive | None = None
    storage_c: Span | None = None
    opened_life_days: Positive | None = None
    thawed_life_h: Positive | None = None
    life_activation_kj_mol: Positive | None = None
    pack_g: Positive | None = None


class Coating(Item):
    layers: tuple[Literal["inner", "barrier", "cover"], ...] = Field(
        min_length=1, description="inner: may touch a live grid; barrier: stops vapour; cover: takes knocks"
    )
    insulates: bool
    min_c: Celsius
    max_c: Celsius
    short_min_c: Celsius | None = None
    short_max_c: Celsius | None = None
    touch_dry_min: NotNegative = Field(description="until the next layer may follow")
    full_cure_min: NotNegative
    cure_temperature_c: Celsius
    thickness_um: Positive
    modulus_gpa: Positive | None = None
    cte_ppm_per_c: float | None = None
    elongation_pct: Positive | None = None
    composition: tuple[Share, ...] = Field((), description="what evaporates from it")
    contains_solvent: bool
    solvent_strength: Literal["none", "mild", "strong"]
    by_products: tuple[Literal["acetic-acid", "alcohol", "oxime", "amine", "water", "none"], ...]
    inhibited_by: tuple[Literal["amine", "sulfur", "tin", "moisture", "oxygen", "none"], ...] = ()
    gives_off: tuple[Literal["amine", "sulfur", "tin", "plasticiser", "oil", "silicone-oil", "none"], ...] = ()
    corrosive_to: tuple[str, ...] = Field((), description="substrate families that it corrodes; copper: grid and leads")
    sticks_over: tuple[str, ...] | None = Field(None, description="coating families that it holds on to; left out: any")
    water_vapour: Literal["open", "slow", "barrier"] = Field(description="how freely water vapour goes through")
    mechanical: Literal["none", "light", "firm"]
    resists: dict[str, Resistance]
    organic: bool = True
    removable: bool | None = None
    parts: Literal[1, 2] = 1
    pot_life_min: Positive | None = None
    mix_ratio: tuple[Positive, Positive] | None = None
    outgassing_tml_pct: NotNegative | None = None
    outgassing_cvcm_pct: NotNegative | None = None
    minutes: NotNegative = Field(5.0, description="hands-on minutes for one gauge")
    special_equipment: bool = False
    applied_as: Literal["brush", "dispense", "knead", "melt", "vapour", "trowel"] | None = None
    melts_at_c: Celsius | None = Field(None, description="applied molten")
    shelf_life_months: Positive | None = None
    storage_c: Span | None = None
    opened_life_days: Positive | None = None
    life_activation_kj_mol: Positive | None = None
    pack_g: Positive | None = None


class Aid(Item):
    use: Text
    lint_free: bool | None = None
    max_c: Celsius | None = None
    pack_count: Positive | None = None
    shelf_life_months: Positive | None = None
    storage_c: Span | None = None


class ExposureLimit(Strict):
    """One row of a list of workplace limits, as it stood on a date: check the current local list."""

    list: Text
    kind: Literal["twa-8h", "stel-15min", "ceiling", "peak"]
    ppm: Positive | None = None
    mg_m3: Positive | None = None
    source: Id
    as_of: str

    @model_validator(mode="after")
    def _a_value(self) -> Self:
        if self.ppm is None and self.mg_m3 is None:
            raise ValueError("a limit needs ppm or mg_m3")
        return self


class Substance(Item):
    solvent_family: str | None = Field(None, description="the degreaser family that it belongs to as a solvent")
    cas: Annotated[str, Field(pattern=r"^\d{2,7}-\d{2}-\d$")] | None = None
    molar_mass_g_mol: Positive | None = None
    density_g_ml: Positive | None = None
    boiling_point_c: float | None = None
    vapour_pressure_kpa: NotNegative | None = None
    flash_point_c: float | None = None
    lel_pct: Positive | None = None
    hansen: Hansen | None = None
    hazard_statements: tuple[Annotated[str, Field(pattern=r"^(EUH)?H?\d{3}[A-Za-z]*$")], ...] = ()
    limits: tuple[ExposureLimit, ...] = ()


class Source(Strict):
    """A published work that statements cite. `seen` only where the author had the text or data in hand."""

    id: Id
    title: Text
    edition: str
    kind: Literal["standard", "handbook", "dataset", "law", "paper"]
    seen: bool
    note: str = ""


MODELS: dict[str, type[Item]] = {
    "substrate": Substrate,
    "degreaser": Degreaser,
    "abrasive": Abrasive,
    "conditioner": Conditioner,
    "neutraliser": Neutraliser,
    "treatment": Treatment,
    "backing": Backing,
    "adhesive": Adhesive,
    "coating": Coating,
    "aid": Aid,
    "substance": Substance,
}
_KINDS = {model: kind for kind, model in MODELS.items()}


def kind_of(model: type[Item]) -> str:
    """The kind whose items `model` describes."""
    return _KINDS[model]


def as_facts(item: Item) -> dict[str, Any]:
    """The item's known values by dotted name: `hansen.d`, `resists.alkali`. Unknown ones are left out.

    Lists stay lists (`aliases`, `schedules`); only tables are flattened, so that a rule can name what is in them.
    """
    flat: dict[str, Any] = {}

    def put(prefix: str, value: Any) -> None:
        if value is None:
            return
        if isinstance(value, dict) and prefix != "ranges":
            for key, inner in value.items():
                put(f"{prefix}.{key}" if prefix else key, inner)
        else:
            flat[prefix] = value

    put("", item.model_dump(mode="json"))
    return flat
