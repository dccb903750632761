"""What is kept of the work: records of installations, and what jobs keep for themselves. One frozen model for each.

>>> said = {"type": "reserved", "job": "J", "at": "2027-03-01", "who": "kim", "draws": [
...         {"lot": "A", "quantity": "2.50", "unit": "ml"}]}
>>> checked(said)["draws"]
[{'lot': 'A', 'quantity': '2.5', 'unit': 'mL'}]
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from kb.base.errors import BadInput
from kb.stock.events import Amount, Day, Line, Mark, Moment, Number, Said, Unit
from kb.stock.stores import Document

Reading = Annotated[float, Field(allow_inf_nan=False)]


class _Form(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Made(_Form):
    """One installation as it was found. Readings by quantity, in the unit of its limit; photos by reference."""

    installation: Mark
    part: Line = ""
    outcome: Literal["pass", "fail"]
    why: Line = ""
    lots: tuple[Mark, ...] = ()
    readings: dict[str, Reading] = Field(default_factory=dict)
    unmeasured: tuple[str, ...] = ()
    photo: Line = ""
    note: Line = ""


class Draw(_Form):
    """So much of a lot."""

    lot: Mark
    quantity: Amount
    unit: Unit


class _Kept(_Form):
    """What every document of the work says. `as_of`: the last event of the stock when it was recorded."""

    id: Number | None = None
    recorded: Day | None = None
    as_of: int | None = Field(None, ge=0)
    job: Said
    at: Moment
    who: Said
    draws: tuple[Draw, ...] = ()


class Record(_Kept):
    """Installations that were recorded together: of which chain, by whom, in what room, from which lots.

    `departures`: the items that the chain doesn't have and that were used all the same; its yield learns nothing then.
    `never_drawn`: what an earlier version said that it took, and did not take from the shelf.
    """

    type: Literal["installed"] = "installed"
    reason: Line = ""
    again: bool = False
    chain: dict[str, str]
    items: dict[str, str] = Field(default_factory=dict, description="the item of each lot")
    departures: tuple[str, ...] = ()
    bench: dict[str, Reading] = Field(default_factory=dict)
    installations: tuple[Made, ...] = Field(min_length=1)
    never_drawn: tuple[Draw, ...] = ()


class Reservation(_Kept):
    """What a job keeps for itself from now on, in place of what it kept before; nothing is a release."""

    type: Literal["reserved"] = "reserved"


_FORMS: Mapping[str, type[_Kept]] = {"installed": Record, "reserved": Reservation}


def checked(raw: Mapping[str, Any]) -> Document:
    """Give a document of the work as it is kept: canonical, without what says nothing. BadInput names the field."""
    kind = raw.get("type")
    form = _FORMS.get(kind) if isinstance(kind, str) else None
    if form is None:
        raise BadInput("type", f"'{kind}' is nothing that is kept of the work", "installed or reserved")
    try:
        found = form.model_validate(raw).model_dump(mode="json", exclude_defaults=True)
    except ValidationError as error:
        fault = error.errors()[0]
        where = ".".join(str(step) for step in fault["loc"])
        raise BadInput(where, fault["msg"].removeprefix("Value error, ")) from None
    head = {name: found.pop(name) for name in ("id",) if name in found}
    return {**head, "type": kind, **found}
