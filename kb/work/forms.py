"""What is kept of the work: records, runs of the bench, and what jobs keep for themselves. One frozen model for each.

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
from kb.stock.event_fields import Amount, Day, Line, Mark, Moment, Number, Said, Unit
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


class Timed(_Form):
    """A step of the procedure as it was done at the bench: by whom, when, and on which installations."""

    step: Number
    stage: Line
    installations: tuple[Mark, ...]
    at: Moment
    who: Said


class Happened(_Form):
    """Something that was done or seen in a run of the bench. `key` makes it one, however often it is sent."""

    key: Mark
    kind: Literal[
        "done", "early", "lot", "room", "reading", "fail", "note", "who", "undo", "outcome", "part", "anyway", "end"
    ]
    at: Moment
    who: Said
    step: Number | None = None
    installations: tuple[Mark, ...] = ()
    item: Line = ""
    lot: Line = ""
    name: Line = ""
    value: Reading | None = None
    note: Line = ""


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
    run: Line = Field("", description="the run of the bench that it came of, with the times of its steps")
    times: tuple[Timed, ...] = ()


class Run(_Kept):
    """A piece of a run of the bench: what happened, in the order in which the device saw it."""

    type: Literal["ran"] = "ran"
    run: Mark
    happened: tuple[Happened, ...] = Field(min_length=1, max_length=500)


class Reservation(_Kept):
    """What a job keeps for itself from now on, in place of what it kept before; nothing is a release."""

    type: Literal["reserved"] = "reserved"


class Signature(_Kept):
    """What somebody who didn't do the work says of a record of installations, by its number."""

    type: Literal["signed"] = "signed"
    of: Number
    verdict: Literal["approved", "refused"]
    reason: Line = ""


_FORMS: Mapping[str, type[_Kept]] = {"installed": Record, "reserved": Reservation, "ran": Run, "signed": Signature}


def checked(raw: Mapping[str, Any]) -> Document:
    """Give a document of the work as it is kept: canonical, without what says nothing. BadInput names the field."""
    kind = raw.get("type")
    form = _FORMS.get(kind) if isinstance(kind, str) else None
    if form is None:
        raise BadInput("type", f"'{kind}' is nothing that is kept of the work", "installed, reserved, ran or signed")
    return kept(form, raw)


def kept(form: type[BaseModel], raw: Mapping[str, Any], whole: str = "") -> Document:
    """Give a document in a form as it is kept: its number and type first, and without what says nothing.

    BadInput names the field at fault; `whole` stands for it where the fault is of the document as a whole.
    """
    try:
        found = form.model_validate(raw).model_dump(mode="json", exclude_defaults=True)
    except ValidationError as error:
        fault = error.errors()[0]
        where = ".".join(str(step) for step in fault["loc"]) or whole
        raise BadInput(where, fault["msg"].removeprefix("Value error, ")) from None
    head = {"id": found.pop("id")} if "id" in found else {}
    return {**head, "type": raw["type"], **found}
