"""What every form is built of: closed models, and the types of their fields."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

Id = Annotated[str, Field(pattern=r"^[a-z0-9]+(-[a-z0-9.]+)*$", max_length=60)]
Text = Annotated[str, Field(min_length=1, max_length=600)]
Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0, allow_inf_nan=False)]
Celsius = Annotated[float, Field(ge=-273.15, le=3000, allow_inf_nan=False)]
Percent = Annotated[float, Field(ge=0, le=100)]
Basis = Literal["by-definition", "standard", "handbook", "dataset", "computed", "common-practice", "memory"]
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
