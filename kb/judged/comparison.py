"""The form of a judged comparison: a job, what is better, what is worse, and why."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from pydantic import Field, field_validator, model_validator

from kb.base.errors import BadInput
from kb.base.files import read_toml, toml_files, validated
from kb.base.models import Basis, Citation, Id, Strict, Text
from kb.job import MOST_COATS

#: Stands in a side for a place that is left empty.
NONE = "none"
Names = tuple[str, ...]
#: The slots that a side may name, beside those of coats.
SIDE_SLOTS = (
    "degreaser", "abrasive_dry", "abrasive_wet", "conditioner", "neutraliser", "treatment", "backing", "adhesive",
    "solder", "flux", "wire",
)  # fmt: skip


class Side(Strict):
    """Which chains are meant: by slot, ids or families of what stands there; "none" for nothing.

    `coatings` are the coats from the innermost on, an empty list is none; `without` stands nowhere.
    """

    degreaser: Names = ()
    abrasive_dry: Names = ()
    abrasive_wet: Names = ()
    conditioner: Names = ()
    neutraliser: Names = ()
    treatment: Names = ()
    backing: Names = ()
    adhesive: Names = ()
    solder: Names = ()
    flux: Names = ()
    wire: Names = ()
    coatings: tuple[Names, ...] | None = None
    cure: str | None = None
    #: Coolest and hottest temperature that the cure may reach [degC].
    cure_c: tuple[float, float] | None = None
    without: Names = ()

    @field_validator(*SIDE_SLOTS, "without", mode="before")
    @classmethod
    def _one_or_several(cls, value: Any) -> Any:
        return (value,) if isinstance(value, str) else value

    @field_validator("coatings", mode="before")
    @classmethod
    def _coats(cls, value: Any) -> Any:
        if not isinstance(value, list | tuple):
            return value
        if len(value) > MOST_COATS:
            raise ValueError(f"{len(value)} coats are more than a chain has; name {MOST_COATS} at the most")
        return tuple((coat,) if isinstance(coat, str) else coat for coat in value)

    @model_validator(mode="after")
    def _says_something(self) -> Side:
        if not self.model_fields_set:
            raise ValueError("names nothing; say which chains are meant")
        return self

    def named(self, slot: str) -> Names:
        """List what may stand in a slot; empty where the side leaves that open."""
        names: Names = getattr(self, slot) if slot in SIDE_SLOTS else ()
        return names


class Comparison(Strict):
    """For one job, chains that a bonder takes before others; with `equal`, either as gladly."""

    id: Id
    why: Text
    basis: Basis
    added: datetime.date
    equal: bool = False
    job: dict[str, Any] = Field(description="as in a job file: [job.part], [job.service] and so on")
    better: Side
    worse: Side
    sources: tuple[Citation, ...] = ()


def load_comparisons(folder: Path, house: bool = False) -> Iterator[tuple[Comparison, str]]:
    """Load every comparison in `folder`, with how its file is shown; none where there is no such folder.

    BadInput where a file is broken, or named otherwise than its id.
    """
    for path in toml_files(folder) if folder.is_dir() else ():
        shown = str(path) if house else f"rules/{folder.name}/{path.relative_to(folder)}"
        found = validated(Comparison, read_toml(path, shown), shown)
        if found.id != path.stem:
            raise BadInput(shown, f"id: '{found.id}' is not the file's name", f"rename one of them to '{found.id}'")
        yield found, shown
