"""Handling aids, pure substances with their workplace limits, and the works that statements cite."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from kb.base.models import Celsius, Id, NotNegative, Positive, Span, Strict, Text
from kb.knowledge.catalog.base import Hansen, Item


class Aid(Item):
    kind = "aid"

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
    kind = "substance"

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
