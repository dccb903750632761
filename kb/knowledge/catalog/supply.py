"""Handling aids, pure substances with their workplace limits, and the works that statements cite."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from kb.base import vocabulary as v
from kb.base.models import Celsius, Id, NotNegative, Positive, Span, Strict, Text
from kb.knowledge.catalog.base import Corrosive, Hansen, Item, cautious

#: A code of a hazard statement.
Statement = Annotated[str, Field(pattern=r"^(EUH|H)\d{3}[A-Za-z]*$")]


class Aid(Item):
    kind = "aid"

    use: Text
    material: Literal["cotton", "paper", "cellulose", "polyester", "polyurethane-foam", "polyamide", "polyimide",
                      "polyethylene", "polypropylene", "fluoropolymer", "cellulose-acetate", "silicone-rubber",
                      "rubber", "felt", "glass", "metal", "steel", "stainless-steel",
                      "brass", "bronze"] | None = Field(
        None, description="what touches the surface or soaks up the liquid"
    )  # fmt: skip
    glue: Literal["none", "silicone", "acrylic", "rubber"] | None = Field(None, description="of a tape")
    lint_free: bool | None = None
    max_c: Celsius | None = None
    pack_count: Positive | None = None
    shelf_life_months: Positive | None = None
    storage_c: Span | None = None


class ExposureLimit(Strict):
    """One row of a list of workplace limits, as it stood on a date: check the current local list."""

    list: Text
    jurisdiction: str = Field("advisory", description="whose list it is; `advisory` binds nobody")
    kind: Literal["twa-8h", "stel-15min", "ceiling", "peak"]
    ppm: Positive | None = None
    mg_m3: Positive | None = None
    fibres_cm3: Positive | None = None
    measured_as: Literal["NCO"] | None = Field(None, description="the figure counts this group alone")
    fraction: Literal["inhalable", "respirable"] | None = Field(None, description="of dust: the part that counts")
    skin: bool = Field(False, description="the list warns that it goes through skin")
    valid_from: date | None = None
    valid_until: date | None = None
    source: Id
    locator: str = ""
    as_of: str

    @model_validator(mode="after")
    def _a_value(self) -> Self:
        if self.ppm is None and self.mg_m3 is None and self.fibres_cm3 is None:
            raise ValueError("a limit needs ppm, mg_m3 or fibres_cm3")
        if self.jurisdiction not in v.JURISDICTIONS:
            raise ValueError(f"jurisdiction: '{self.jurisdiction}' is not one of {', '.join(v.JURISDICTIONS)}")
        return self


class SpecificLimit(Strict):
    """The share from which this substance, in a mixture, gives it a hazard: it goes before the general one."""

    statement: Statement
    from_pct: Annotated[float, Field(gt=0, le=100)]


class AcuteToxicity(Strict):
    """Acute toxicity estimates, for the sum over a mixture."""

    oral_mg_kg: Positive | None = None
    dermal_mg_kg: Positive | None = None
    gas_ppm: Positive | None = None
    vapour_mg_l: Positive | None = None
    mist_mg_l: Positive | None = None


class LeftOff(Strict):
    """Statements of the harmonised entry that the item doesn't carry, and on what condition."""

    statements: tuple[Statement, ...] = Field(min_length=1)
    because: Text


class Restriction(Strict):
    """What a law forbids or licenses, in a phrase, as it stood on a date."""

    jurisdiction: str
    says: Text
    as_of: str

    @model_validator(mode="after")
    def _whose(self) -> Self:
        if self.jurisdiction not in v.JURISDICTIONS:
            raise ValueError(f"jurisdiction: '{self.jurisdiction}' is not one of {', '.join(v.JURISDICTIONS)}")
        return self


class Substance(Item):
    kind = "substance"

    solvent_family: str | None = Field(None, description="the degreaser family that it belongs to as a solvent")
    cas: Annotated[str, Field(pattern=r"^\d{2,7}-\d{2}-\d$")] | None = None
    molar_mass_g_mol: Positive | None = None
    density_g_ml: Positive | None = None
    boiling_point_c: float | None = None
    vapour_pressure_kpa: Annotated[NotNegative | None, cautious("high")] = None
    flash_point_c: Annotated[float | None, cautious("low")] = None
    lel_pct: Annotated[Positive | None, cautious("low")] = None
    hansen: Hansen | None = None
    hazard_statements: tuple[Statement, ...] = ()
    #: Where a code stands for several categories: "1A" for H317, "2" for H330.
    categories: dict[Statement, str] = Field(default_factory=dict)
    self_classified: tuple[Statement, ...] = Field((), description="codes that no harmonised entry gives")
    left_off: tuple[LeftOff, ...] = Field((), description="codes of the harmonised entry that it doesn't carry")
    applies_from: dict[Statement, date] = Field(
        default_factory=dict, description="codes that the law asks for from a day on; they are shown before it, too"
    )
    specific_limits: tuple[SpecificLimit, ...] = ()
    acute_toxicity: AcuteToxicity | None = None
    m_acute: Positive | None = Field(None, description="multiplies its share among what is very toxic to water life")
    m_chronic: Positive | None = None
    reactive_groups: tuple[Id, ...] | None = Field(
        None, description="groups of the compatibility chart that it belongs to; empty: none of them"
    )
    corrodes_as: tuple[Corrosive, ...] = Field((), description="eats at once what `corrodes_in` names so of a part")
    spoils_bonds: bool = Field(False, description="nothing else holds where a trace of it was")
    nco_groups: Annotated[int, Field(ge=1)] | None = Field(None, description="isocyanate groups in a molecule")
    dust_of: tuple[str, ...] = Field((), description="words of `dust_hazard` of parts whose dust it is")
    limits: tuple[ExposureLimit, ...] = ()
    restrictions: tuple[Restriction, ...] = ()

    @model_validator(mode="after")
    def _statements(self) -> Self:
        for name in ("categories", "self_classified", "applies_from"):
            for code in getattr(self, name):
                if code not in self.hazard_statements:
                    raise ValueError(f"{name}: '{code}' is not among the hazard_statements")
        for row in self.left_off:
            for code in row.statements:
                if code in self.hazard_statements:
                    raise ValueError(f"left_off: '{code}' is among the hazard_statements")
        return self


class Source(Strict):
    """A published work that statements cite. `seen` only where the author had the text or data in hand."""

    id: Id
    title: Text
    edition: str
    kind: Literal["standard", "handbook", "dataset", "law", "paper"]
    seen: bool
    note: str = ""
