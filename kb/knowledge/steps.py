"""The form in which the steps of a procedure are written (generic_catalog/steps/)."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Self

from pydantic import Field, model_validator

from kb.base import vocabulary as v
from kb.base.files import read_toml, toml_files, validated
from kb.base.models import NotNegative, Strict, Text
from kb.knowledge.packing import pack, unpack
from kb.rules.clauses import Facts
from kb.rules.form import WhenTable, check_condition
from kb.rules.roles import SLOT_ROLES

#: The stages before the gauge is laid.
PREPARATION = v.STAGES[: v.STAGES.index("mount")]


class Limit(Strict):
    """What a measured quantity must keep for the bond to be accepted."""

    quantity: Text
    unit: str
    at_most: float | None = None
    at_least: float | None = None


class StepTable(Strict):
    """One step: what to do, how long to wait, what must be and what must never be."""

    stage: str
    item: str | None = Field(None, description="the role whose item is used; the step falls away where it is empty")
    do: Text
    hands_min: NotNegative = Field(0.0, description="hands-on minutes, beside those of its item's slot")
    wait_s: NotNegative | None = None
    wait_min: NotNegative | str | None = Field(None, description="minutes, or the fact that holds them")
    wait_for: str = ""
    heat: str | None = Field(None, description="the fact that holds the heat of the part while it waits")
    pressed: bool = Field(False, description="what presses on the gauge stays on while it waits")
    at_once: bool = Field(False, description="it follows at once on the step before it, on the same gauge")
    must: tuple[str, ...] = ()
    never: tuple[str, ...] = ()
    because: str = Field("", description="why it is done; every step of the preparation has a reason")
    when: tuple[WhenTable, ...] = ()
    limit: Limit | None = None
    proves: bool = Field(False, description="measures what was done: it comes after all else of its coat")

    @model_validator(mode="after")
    def _known(self) -> Self:
        if self.stage not in v.STAGES:
            raise ValueError(f"stage: '{self.stage}' is not one of {', '.join(v.STAGES)}")
        if self.item is not None and self.item not in SLOT_ROLES:
            raise ValueError(f"item: '{self.item}' is not a slot's role")
        if self.stage in PREPARATION and not self.because:
            raise ValueError("because: a step of the preparation says why it is done")
        return self


class StepFile(Strict):
    """A file of steps, in the order in which they are done within their stage."""

    steps: tuple[StepTable, ...]


def reads(step: Facts) -> Iterator[str]:
    """Give every fact path that a step reads to tell whether it is done, how long to wait, and how hot."""
    for condition in step["when"]:
        yield from unpack(condition).facts()
    if isinstance(step["wait_min"], str):
        yield step["wait_min"]
    if step["heat"] is not None:
        yield step["heat"]


def load_steps(folder: Path) -> Iterator[Facts]:
    """Load every step in plain values, files in order of name; BadInput at the first fault."""
    for path in toml_files(folder):
        shown = f"steps/{path.name}"
        for step in validated(StepFile, read_toml(path, shown), shown).steps:
            conditions = [when.condition() for when in step.when]
            for condition in conditions:
                check_condition(condition, shown)
            yield {**step.model_dump(mode="json", exclude={"when"}), "when": tuple(pack(c) for c in conditions)}
