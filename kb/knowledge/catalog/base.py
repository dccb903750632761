"""What every kind of item has: strictness, units in names, basis and sources."""

from __future__ import annotations

from typing import ClassVar, Literal, Self

from pydantic import Field, model_validator

from kb.base import vocabulary as v
from kb.base.errors import near_or_all
from kb.base.models import Basis, Citation, Grade, Id, NotNegative, Percent, Positive, Span, Strict, Text
from kb.base.surroundings import exposures
from kb.rules.clauses import Value

#: What eats a metal: `corrodes_in` of a part, `corrodes_as` of a substance. Gallium does what mercury does.
Corrosive = Literal["damp-air", "water", "chloride", "acid", "alkali", "ammonia", "sulfur", "mercury", "hydrogen"]


def cautious(end: Literal["low", "high"]) -> Value:
    """Mark a field as holding the `end` of its range that errs to the safe side."""
    return Field(json_schema_extra={"cautious": end})


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
    """One substance of a mixture, by mass of the bottle that it is in: the first or the second of a two-part item."""

    substance: Id
    share_pct: Percent
    part: Literal[1, 2] = 1


class Vapour(Strict):
    """One substance that an item gives off to the air as it dries or cures, by mass of the item as it is used."""

    substance: Id
    share_pct: Percent


class Item(Strict):
    """What every item has."""

    #: The kind of item that a model describes; its folder in the catalog.
    kind: ClassVar[str]

    id: Id
    name: Text
    family: str
    aliases: tuple[str, ...] = ()
    summary: str = Field("", max_length=400)
    basis: Basis
    sources: tuple[Citation, ...] = ()
    field_basis: tuple[FieldBasis, ...] = ()
    hazards: tuple[str, ...] | None = Field(
        None, description="hazards that a user may exclude; left out where they follow from the composition"
    )
    own_hazards: dict[str, Text] = Field(
        default_factory=dict, description="hazards that no composition tells (of the work, say), each with its reason"
    )
    #: Low and high end met in the class, by field name; the field itself holds the cautious end.
    ranges: dict[str, Span] = Field(default_factory=dict)
    house: bool = Field(False, description="a lab's own item, under the lab's own name")
    like: Id | None = Field(None, description="the generic item that a house item is a member of")

    @model_validator(mode="after")
    def _closed_lists(self) -> Self:
        if self.family not in v.FAMILIES[self.kind]:
            mend = near_or_all(self.family, v.FAMILIES[self.kind])
            raise ValueError(f"family: '{self.family}' is not a family of {self.kind}; {mend}")
        for where, words in (("hazards", self.hazards or ()), ("own_hazards", self.own_hazards)):
            for hazard in words:
                if hazard not in v.HAZARDS:
                    raise ValueError(f"{where}: '{hazard}' is not a hazard; {near_or_all(hazard, v.HAZARDS)}")
        for name, (low, high) in self.ranges.items():
            value = getattr(self, name, None)
            if value is None:
                raise ValueError(f"ranges.{name}: the item has no value of that name")
            if not low <= value <= high:
                raise ValueError(f"ranges.{name}: {value} is outside {low} to {high}")
        for exposure, grade in getattr(self, "resists", {}).items():
            if exposure not in v.EXPOSURES:
                raise ValueError(f"resists: '{exposure}' is not an exposure; {near_or_all(exposure, v.EXPOSURES)}")
            kinds = exposures()[exposure].kinds
            for kind in grade.except_ if isinstance(grade, Grade) else ():
                if kind not in kinds:
                    raise ValueError(f"resists.{exposure}: '{kind}' is no kind of it; {near_or_all(kind, kinds)}")
        if self.basis in v.CITED_BASES and not self.sources:
            raise ValueError(f"basis: '{self.basis}' needs at least one entry in sources")
        return self


class Mixture(Item):
    """What is made of substances, and carries their hazards."""

    composition: tuple[Share, ...] = Field((), description="what it is made of: all that evaporates or does harm")
    density_g_ml: Positive | None = Field(
        None, description="of what is in the container; left out: what follows from what it is made of"
    )
    flash_point_c: float | None = Field(
        None, description="of the mixture, as measured; left out: it burns as easily as the worst of its constituents"
    )
    no_flash_point: bool = Field(False, description="measured: it has none, whatever its constituents have")

    @model_validator(mode="after")
    def _shares(self) -> Self:
        for part in (1, 2):
            total = sum(s.share_pct for s in self.composition if s.part == part)
            if total > 100.5:
                raise ValueError(f"composition: the shares of part {part} add up to {total:g} %")
        if self.no_flash_point and self.flash_point_c is not None:
            raise ValueError("no_flash_point: it has a flash point as well; keep the one that was measured")
        return self


def as_facts(item: Item) -> dict[str, Value]:
    """List the item's known values by dotted name: `hansen.d`, `resists.alkali`. Unknown ones are left out.

    Lists stay lists (`aliases`, `schedules`); only tables are flattened, so that a rule can name what is in them. What
    a table `is` stands under the table's own name.
    """
    flat: dict[str, Value] = {}

    def put(prefix: str, value: Value) -> None:
        if value is None:
            return
        if isinstance(value, dict) and prefix != "ranges":
            for key, inner in value.items():
                put(prefix if key == "is" else f"{prefix}.{key}" if prefix else key, inner)
        else:
            flat[prefix] = _known(value)

    put("", item.model_dump(mode="json", by_alias=True))
    return flat


def _known(value: Value) -> Value:
    """Drop what is not known in the tables of a list: a cure's limit that no one has given, say."""
    if isinstance(value, dict):
        return {key: _known(inner) for key, inner in value.items() if inner is not None}
    return [_known(inner) for inner in value] if isinstance(value, list) else value
