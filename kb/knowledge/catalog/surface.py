"""The part, and what prepares its surface."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from kb.base import vocabulary as v
from kb.base.models import Celsius, NotNegative, Positive, Span
from kb.knowledge.catalog.base import Corrosive, Hansen, Item, Mixture

#: What water does to a material.
WaterHarm = Literal[
    "rusts", "corrodes", "swells", "softens", "dissolves", "hydrolyses", "weakens", "stains", "bursts"
]  # fmt: skip


class Substrate(Item):
    """What a gauge is bonded to."""

    kind = "substrate"

    organic: bool
    metallic: bool
    polymer_structure: Literal["amorphous", "semicrystalline", "thermoset", "elastomer", "not-a-polymer"]
    modulus_gpa: Positive | None = None
    poisson: Annotated[float, Field(gt=-1, le=0.5)] | None = None
    cte_ppm_per_c: float | None = None
    max_temperature_c: Celsius | None = Field(None, description="endured for hours while an adhesive cures, clamped")
    max_continuous_c: Celsius | None = Field(None, description="served at for months and years, unloaded")
    max_loaded_c: Celsius | None = Field(None, description="carries load without bending or creeping away")
    glass_transition_c: Celsius | None = None
    glass_transition_wet_c: Celsius | None = Field(None, description="the same when it is full of water")
    melts_at_c: Celsius | None = Field(None, description="melting begins: solidus, crystal melting or softening point")
    decomposes_at_c: Celsius | None = Field(None, description="begins to decompose, char or give off harmful vapour")
    oxidises_in_air_at_c: Celsius | None = Field(None, description="scales or burns in air within hours")
    transforms_at_c: Celsius | None = Field(None, description="changes its crystal form, and its length with it")
    brittle_below_c: Celsius | None = None
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
    water_harms: tuple[WaterHarm, ...] | None = Field(None, description="what water does to it")
    water_uptake_pct: NotNegative | None = Field(None, description="mass of water taken up at saturation")
    swelling_ue_per_pct: NotNegative | None = Field(
        None, description="linear strain by each mass percent of water taken up; of timber across the grain"
    )
    corrodes_in: tuple[Corrosive, ...] | None = None
    ozone_cracks: bool | None = Field(None, description="of a rubber: weather and ozone crack it where it is stretched")
    hydrogen_sensitive: bool | None = Field(None, description="acid, pickling or plating can embrittle it")
    reactive_fines: bool | None = Field(None, description="its dust or chips burn or react with solvents")
    dust_hazard: tuple[Literal["silica", "lead", "beryllium", "magnesium", "titanium", "aluminium", "zinc",
                               "fibre", "carbon-fibre", "cobalt", "nickel", "chromium", "wood", "asbestos-era",
                               "biological", "copper", "cadmium", "asbestos", "chromate", "thorium", "zirconium",
                               "lithium", "tungsten", "graphite", "rare-earth", "antimony", "arsenic",
                               "mineral-fibre", "leather", "tantalum"], ...] = ()  # fmt: skip
    radioactive: bool = False
    stored_energy: Literal["none", "electrochemical", "mechanical", "chemical"] = Field(
        "none", description="what is let loose where it is punctured, heated or scratched"
    )
    clamp_sensitive: bool = Field(False, description="pressure dents, bends or shorts it")
    looks_like: tuple[str, ...] = Field((), description="ids of what the eye takes it for and is more dangerous")
    fibre: Literal["none", "carbon", "glass", "aramid", "natural"] = "none"
    crazed_by: tuple[str, ...] | None = Field(None, description="degreaser families known to craze or crack it")
    stress_crazed_by: tuple[str, ...] | None = Field(None, description="families that craze it only under stress")
    swollen_by: tuple[str, ...] | None = Field(None, description="degreaser families known to swell or dissolve it")
    swollen_by_substances: tuple[str, ...] = Field(
        (), description="substances that swell it although others of their family don't"
    )
    gives_off: tuple[Literal["plasticiser", "sulfur", "amine", "tin", "oil", "moisture", "salts", "electrolyte", "wax",
                             "formaldehyde", "none"], ...] = ()  # fmt: skip
    filler_pct: Annotated[float, Field(ge=0, le=100)] | None = Field(None, description="mass of fibre or mineral in it")
    directional: bool = Field(False, description="differs by direction: grain, fibre or crystal axis")
    plainest: bool = Field(False, description="stands for its family where one member does: the coverage map")
    carries_parts: bool = Field(False, description="usually carries electronic parts")
    often_bare: bool | None = Field(None, description="carries parts as a board, and is as often tested without any")
    thin_layer: bool = Field(False, description="a coat on something else: paint, plating, mask")
    abrading: Literal["usual", "light", "diamond-only", "never"] = Field(
        "usual", description="what its surface bears: light is a few strokes by hand"
    )
    layer: Literal["none", "zinc", "zinc-flake", "nickel", "chromium", "cadmium", "gold", "silver", "tin", "tin-lead",
                   "copper", "aluminium", "organic-preservative", "black-oxide", "phosphate", "nitride", "conversion",
                   "anodic-oxide", "paint", "powder-coat", "solder-mask", "conformal-coat", "enamel", "ceramic-spray",
                   "metal-spray", "carbide-spray", "paper", "plastic-film"] = Field(
        "none", description="the outermost layer, where it is not the part itself"
    )  # fmt: skip
    layer_um: Positive | None = Field(None, description="how thick that layer usually is")
    base: str | None = Field(None, description="id of the material below the layer")
    passivation: Literal["none", "hexavalent", "trivalent", "chromium-free", "unknown"] = Field(
        "none", description="what closes the plating or the metal: hexavalent is chromate"
    )

    @model_validator(mode="after")
    def _families(self) -> Self:
        for name in (*(self.crazed_by or ()), *(self.stress_crazed_by or ()), *(self.swollen_by or ())):
            if name not in v.FAMILIES["degreaser"]:
                raise ValueError(f"crazed_by / swollen_by: '{name}' is not a degreaser family")
        return self


class Liquid(Mixture):
    """What degreasers, conditioners and neutralisers share."""

    water_based: bool
    ph: Annotated[float, Field(ge=-1, le=15)] | None = None
    residue: Literal["none", "trace", "film"] | None = None
    needs_rinse: bool | None = None
    dry_min: NotNegative | None = Field(None, description="minutes in still air until a wiped film is gone")
    shelf_life_months: Positive | None = None
    storage_c: Span | None = None
    opened_life_days: Positive | None = None
    pack_ml: Positive | None = None


class Degreaser(Liquid):
    kind = "degreaser"

    evaporation: Literal["fast", "medium", "slow"] | None = None
    flammable: bool | None = Field(None, description="follows from the flash point; a value that differs is a fault")
    hansen: Hansen | None = None
    dissolves_flux: bool | None = None
    attacks_copper: bool | None = None


class Conditioner(Liquid):
    kind = "conditioner"

    acid: bool


class Neutraliser(Liquid):
    kind = "neutraliser"

    ammonia: bool


class Abrasive(Item):
    kind = "abrasive"

    mineral: Literal["silicon-carbide", "alumina", "diamond", "pumice", "glass", "garnet", "plastic", "none"]
    form: Literal["paper", "pad", "film", "blast", "powder", "grinder"]
    scale: Literal["fepa-p", "cami", "jis", "fepa-f", "none"]
    grade: str = ""
    mean_um: Positive | None = None
    use_dry: bool
    use_wet: bool
    dust: bool = Field(True, description="raises dust when used dry")
    embeds: bool | None = Field(None, description="grains stay in soft surfaces")
    ferrous: bool = False
    powered: bool = Field(False, description="driven by air or a motor: throws its dust about")
    minutes: NotNegative = Field(2.0, description="minutes for one gauge position")
    pack_cm2: Positive | None = None


class Treatment(Mixture):
    kind = "treatment"

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
    needs_chamber: bool = Field(False, description="done in a vacuum chamber, into which the part must fit")
    shelf_life_months: Positive | None = None
    storage_c: Span | None = None
    opened_life_days: Positive | None = None
    pack_ml: Positive | None = None
