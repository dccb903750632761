"""What every form is built of: closed models, and the types of their fields."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from kb.base.units import converted

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

    # A form nested in another is checked by it: its own validator is made where someone asks for it.
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, defer_build=True)


class Grade(Strict):
    """How well a material stands an exposure, and how hot, long, strong or much of it the grade holds for."""

    model_config = ConfigDict(populate_by_name=True)
    is_: Resistance = Field(alias="is")
    up_to_c: Celsius | None = None
    for_three_days_c: Celsius | None = Field(
        None, description="how hot for three days at most, where up_to_c is for long"
    )
    for_days: Positive | None = None
    concentration_pct: Percent | None = None
    dose_kgy: Positive | None = None
    except_: dict[str, Resistance] = Field({}, alias="except", description="kinds of the exposure graded otherwise")


#: A grade by itself holds over the whole range of the item that has it.
Resists = dict[str, Resistance | Grade]


class Table(BaseModel):
    """One table of the job file. A string with a unit becomes a number in the unit that the field's name ends in."""

    # The job checks its tables itself: a table's own validator is made where someone asks for it.
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, defer_build=True)

    @model_validator(mode="before")
    @classmethod
    def _units(cls, data: Any) -> Any:
        if not isinstance(data, Mapping):
            return data
        return {name: converted(name, value) for name, value in data.items()}


class Citation(Strict):
    """What a statement rests on: a source in sources.toml and the place in it."""

    id: Id
    locator: str = ""
