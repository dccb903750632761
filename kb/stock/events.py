"""What can happen to a lot: one frozen model per type of event.

The models stand at the door: whatever is to be recorded goes through `checked`, which gives back the plain document
that is kept. Folding reads kept documents and builds no models. Some fields are the program's to give and no caller's:
the number of an event, the day on which it was recorded, and the record that a use belongs to (`OWN`).

>>> checked({"type": "used", "at": "2027-03-01 8:30", "who": "kim", "lot": "A-17", "quantity": "2.50", "unit": "ml"})
{'type': 'used', 'at': '2027-03-01T08:30', 'who': 'kim', 'lot': 'A-17', 'quantity': '2.5', 'unit': 'mL'}
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from kb.base.errors import BadInput, nearest
from kb.stock import amounts
from kb.stock.event_fields import Amount, Celsius, Day, Finite, Left, Line, Mark, Moment, Number, Said, Unit
from kb.stock.stores import Document

#: Given by the program: a caller who sets one is refused.
OWN = ("id", "recorded", "record")


class _Event(BaseModel):
    """What every event says: when, by whom, to which lot, why, and for which work."""

    # A command writes one type of event: the validators of the others needn't be built.
    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)

    id: Number | None = Field(None, description="in the order of recording")
    recorded: Day | None = Field(None, description="the day on which it was recorded; unknown of what was taken over")
    at: Moment
    who: Said
    lot: Mark
    reason: Line = ""
    job: Line = ""
    part: Line = ""
    installation: Line = ""


class _Measured(_Event):
    """An event that says how much, kept in a metric unit."""

    @model_validator(mode="before")
    @classmethod
    def _metric(cls, raw: Any) -> Any:
        try:
            number, unit = amounts.amount(raw["quantity"]), amounts.unit_named(raw["unit"])
        except (KeyError, TypeError, ValueError, AttributeError):
            return raw  # the fields themselves say what is wrong
        number, unit = amounts.metric(number, unit)
        return {**raw, "quantity": number, "unit": unit}


class Received(_Measured):
    """A container came in, or was found on the shelf when stock-taking began."""

    type: Literal["received"]
    item: Mark
    quantity: Amount
    unit: Unit
    received: Day | None = Field(None, description="left out where it isn't known")
    made: Day | None = None
    expires: Day | None = Field(None, description="the date on the container: usable through that day")
    storage_c: Celsius | None = None
    location: Line = ""
    gtin: Annotated[str, Field(pattern=r"^[0-9]{14}$")] | None = None
    batch: Annotated[Line, Field(max_length=60)] = Field("", description="the maker's lot, if this is one of several")

    @model_validator(mode="after")
    def _order(self) -> Self:
        for name in ("received", "expires"):
            later = getattr(self, name)
            if self.made and later and later < self.made:
                raise ValueError(f"{name}: {later} is before it was made ({self.made})")
        return self


class Opened(_Event):
    type: Literal["opened"]


class Thawed(_Event):
    type: Literal["thawed"]


class Mixed(_Event):
    """All that was left was mixed: parts joined, or a powder wetted. A mix of a part of it is a use."""

    type: Literal["mixed"]


class Used(_Measured):
    type: Literal["used"]
    quantity: Amount
    unit: Unit
    record: Number | None = Field(None, description="the record of installations that it was recorded with")


class Counted(_Measured):
    """What was found by counting or weighing; it replaces what the book says."""

    type: Literal["counted"]
    quantity: Left
    unit: Unit


class Disposed(_Event):
    """What was left was thrown away."""

    type: Literal["disposed"]


class Moved(_Event):
    type: Literal["moved"]
    location: Said
    storage_c: Celsius | None = None


class TemperatureLogged(_Event):
    """What a logger saw where the lot stood, and the life that it cost."""

    type: Literal["temperature-logged"]
    location: Said
    since: Moment
    until: Moment
    hours: Finite
    low_c: Celsius
    high_c: Celsius
    mkt_c: Celsius | None = Field(None, description="mean kinetic temperature; unknown without the class's sensitivity")
    activation_kj_mol: Finite | None = None
    reference_c: Celsius | None = Field(None, description="the storage temperature that the life is stated for")
    spent_days: Finite | None = Field(None, description="life lost beyond the days that passed")
    excursion: Line = Field("", description="which limit was exceeded, and by what reading")
    log: Line = ""


class Requalified(_Event):
    """A recorded test gave the lot, as it stands, a new last day."""

    type: Literal["requalified"]
    until: Day
    test: Said
    reason: Said


class Released(_Event):
    """Somebody decided that a lot may be used although it left its storage limits."""

    type: Literal["released"]
    reason: Said


class Held(_Event):
    """Somebody suspects the lot: it is not to be used until it is freed."""

    type: Literal["held"]
    reason: Said


class Freed(_Event):
    """The suspicion was unfounded, or has been dealt with."""

    type: Literal["freed"]
    reason: Said


class Renamed(_Event):
    """The lot was recorded under a wrong name."""

    type: Literal["renamed"]
    to: Mark


class Condemned(_Event):
    """Never to be used again."""

    type: Literal["condemned"]
    reason: Said


class Corrected(_Event):
    """An earlier event of the same lot was recorded wrongly: it never happened, or some of its fields differ."""

    type: Literal["corrected"]
    corrects: Number
    void: bool | None = None
    change: dict[str, Any] = Field(default_factory=dict)
    reason: Said

    @model_validator(mode="after")
    def _says_something(self) -> Self:
        if self.void is None and not self.change:
            raise ValueError("change: say which field was wrong, or that the event is void")
        for name in ("type", "lot", *OWN):
            if name in self.change:
                anew = "undo the event and record it anew"
                mend = f"rename the lot, or {anew} of the right one" if name == "lot" else anew
                raise ValueError(f"change.{name}: can't be changed; {mend}")
        return self


_MODELS: dict[str, type[_Event]] = {
    "received": Received,
    "opened": Opened,
    "thawed": Thawed,
    "mixed": Mixed,
    "used": Used,
    "counted": Counted,
    "disposed": Disposed,
    "moved": Moved,
    "temperature-logged": TemperatureLogged,
    "requalified": Requalified,
    "released": Released,
    "held": Held,
    "freed": Freed,
    "renamed": Renamed,
    "condemned": Condemned,
    "corrected": Corrected,
}
TYPES = tuple(_MODELS)
_FIRST = ("id", "type", "at", "who", "lot", "recorded")


def checked(raw: Mapping[str, Any], where: str = "") -> Document:
    """Give `raw` as the document to be recorded: canonical, and without fields that say nothing.

    Raises BadInput(where, …) that names the first field at fault.
    """
    for name in OWN:
        if raw.get(name) is not None:
            raise BadInput(_at(where, name), "is given by the program", "leave it out")
    return canonical(raw, where)


def canonical(raw: Mapping[str, Any], where: str = "") -> Document:
    """Give a document as it is kept, the program's own fields with it; the same errors as `checked`."""
    kind = raw.get("type")
    model = _MODELS.get(kind) if isinstance(kind, str) else None
    if model is None:
        raise BadInput(_at(where, "type"), f"'{kind}' is not a type of event", nearest(str(kind), TYPES))
    try:
        said = model.model_validate(raw).model_dump(mode="json", exclude_none=True)
    except ValidationError as error:
        fault = error.errors()[0]
        field = ".".join(str(step) for step in fault["loc"])
        plain = {"missing": "is missing", "extra_forbidden": f"is not a field of '{kind}'"}
        what = plain.get(fault["type"], fault["msg"].removeprefix("Value error, "))
        if not fault["loc"]:  # of the event as a whole: the sentence names the field
            field, what = what.split(": ", 1)
        mend = nearest(field, model.model_fields) if fault["type"] == "extra_forbidden" else ""
        raise BadInput(_at(where, field), what, mend) from None
    kept = {name: value for name, value in said.items() if value != "" and value != {}}
    return {name: kept.pop(name) for name in _FIRST if name in kept} | kept


def _at(where: str, field: str) -> str:
    return f"{where}: {field}" if where and field else where or field
