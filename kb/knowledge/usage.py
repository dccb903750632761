"""The form in which the day's amounts are written (generic_catalog/usage/)."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from kb.base import vocabulary as v
from kb.base.errors import BadInput, nearest
from kb.base.files import read_toml, toml_files, validated
from kb.base.models import Basis, Id, NotNegative, Percent, Positive, Strict, Text
from kb.knowledge.packing import pack
from kb.rules.clauses import Facts, Value
from kb.rules.form import WhenTable, check_condition
from kb.rules.roles import SLOT_ROLES


def _kind(word: str) -> str:
    if word not in v.KINDS:
        raise ValueError(f"'{word}' is no kind of item: {', '.join(v.KINDS)}")
    return word


Per = Literal["attempt", "board", "technician", "mix"]
Unit = Literal["mL", "g", "cm2", "cm", "piece"]
Factor = Annotated[float, Field(gt=0, le=100)]
Kind = Annotated[str, AfterValidator(_kind)]


class WasteTable(Strict):
    """What is lost beside what is used: a share of it, or an amount each time."""

    why: Text
    pct: Percent = 0.0
    amount: NotNegative = 0.0
    drops: NotNegative = 0.0
    per: Per = "attempt"


class UsageTable(Strict):
    """How much of one thing a stage takes: an amount, drops, so much for each cm2 of the place, or a film."""

    stage: str
    role: str | None = Field(None, description="the role whose item is used; the row falls away where it is empty")
    aid: Id | None = Field(None, description="or the aid that is used")
    unit: Unit
    amount: NotNegative = 0.0
    told: Literal["cable_m"] | None = Field(None, description="the length in the job's gauge table that it is instead")
    drops: NotNegative = 0.0
    per_cm2: NotNegative = 0.0
    film: str | None = Field(None, description="the fact that holds a film's thickness in um: that much of the place")
    margin_mm: NotNegative = Field(0.0, description="how far the place goes beyond the gauge's matrix, all round")
    step_mm: NotNegative = Field(0.0, description="how much further for each coat below it")
    per: Per = "attempt"
    holds: Positive = Field(1.0, description="how much of the unit one piece of a pack holds: cm on a roll of tape")
    reused: bool = False
    most: Positive | None = Field(None, description="no more are needed at a time, however many the installations")
    spread: tuple[Factor, Factor] = Field((1.0, 1.0), description="least and most met, as a share of the amount")
    waste: tuple[WasteTable, ...] = ()
    when: tuple[WhenTable, ...] = ()
    why: Text
    basis: Basis = "common-practice"

    @model_validator(mode="after")
    def _consistent(self) -> Self:
        if self.stage not in v.STAGES:
            raise ValueError(f"stage: '{self.stage}' is not one of {', '.join(v.STAGES)}")
        if (self.role is None) == (self.aid is None):
            raise ValueError("give either a role or an aid")
        if self.role is not None and self.role not in SLOT_ROLES:
            raise ValueError(f"role: '{self.role}' is not a slot's role")
        if not (self.amount or self.drops or self.per_cm2 or self.film):
            raise ValueError("give at least one of amount, drops, per_cm2 and film")
        if (self.drops or any(w.drops for w in self.waste)) and self.unit not in ("mL", "g"):
            raise ValueError("drops go with the unit mL or g")
        if self.told and self.unit != "cm":
            raise ValueError("a length goes with the unit cm")
        if self.film and self.unit != "g":
            raise ValueError("a film goes with the unit g")
        low, high = self.spread
        if not low <= 1 <= high:
            raise ValueError(f"spread: the amount itself (1) is outside {low:g} to {high:g}")
        if self.reused and self.waste:
            raise ValueError("what is used again has no waste")
        return self


class WasteKind(Strict):
    """One kind of waste: what belongs to it, and how it is kept."""

    kind: Id
    hazards: tuple[str, ...] = ()
    aids: tuple[Id, ...] = ()
    dust_stages: tuple[str, ...] = Field((), description="stages at which a part gives off dust")
    do: Text
    basis: Basis = "common-practice"


class Drop(Strict):
    mL: Positive
    g: Positive
    basis: Basis


class Film(Strict):
    density_g_ml: Positive
    least_solids_pct: Annotated[float, Field(gt=0, le=100)]
    basis: Basis


class Mixing(Strict):
    resolution_g: Positive
    fine_resolution_g: Positive
    ratio_tolerance: Positive
    smallest_g: Positive
    stir_min: NotNegative
    travel_min: NotNegative
    cup_pct: Percent
    reference_c: float
    q10: Positive
    pot_mass_g: Positive
    basis: Basis


class Air(Strict):
    volatile_from_kpa: NotNegative
    main_from_pct: Percent
    caution_share: Positive
    stop_share: Positive
    most_changes_per_h: Positive
    basis: Basis


class Bench(Strict):
    wait_from: Id
    stop_margin_c: float
    driest_pct: Percent
    basis: Basis


class Bins(Strict):
    """What kinds of thing stay on the part, soak up what is wiped, and are no waste."""

    stays: tuple[Kind, ...]
    soaks: tuple[Kind, ...]
    apart: tuple[Kind, ...]
    basis: Basis


class UsageFile(Strict):
    """A file of amounts, of kinds of waste, or of figures that the arithmetic shares."""

    usage: tuple[UsageTable, ...] = ()
    waste: tuple[WasteKind, ...] = ()
    drop: Drop | None = None
    film: Film | None = None
    mixing: Mixing | None = None
    air: Air | None = None
    bench: Bench | None = None
    bins: Bins | None = None


FIGURES = ("drop", "film", "mixing", "air", "bench", "bins")


def load_usage(folder: Path, kinds: Mapping[str, str]) -> Facts:
    """Load rows, kinds of waste and figures in plain values, in no dependence on the order of files or lines.

    `kinds` holds the kind of every item by id. BadInput at the first fault.
    """
    table: dict[str, Value] = {"rows": [], "waste": []}
    units: dict[str, str] = {}
    for path in toml_files(folder):
        shown = f"usage/{path.name}"
        file = validated(UsageFile, read_toml(path, shown), shown)
        for row in file.usage:
            table["rows"].append(_row(row, kinds, units, shown))
        for kind in file.waste:
            for hazard in kind.hazards:
                if hazard not in v.HAZARDS:
                    raise BadInput(shown, f"hazards: '{hazard}' is not a hazard", nearest(hazard, v.HAZARDS))
            for aid in kind.aids:
                _check_aid(aid, kinds, shown)
            table["waste"].append(kind.model_dump(mode="json"))
        for name in FIGURES:
            figures = getattr(file, name)
            if figures is None:
                continue
            if name in table:
                raise BadInput(shown, f"[{name}] stands in another file already", "keep one of them")
            table[name] = figures.model_dump(mode="json")
    for name in FIGURES:
        if name not in table:
            raise BadInput("usage/figures.toml", f"[{name}] is missing", "every figure has to be there")
    table["rows"].sort(key=lambda row: json.dumps(row, sort_keys=True))
    table["waste"].sort(key=lambda row: str(row["kind"]))
    return table


def _row(row: UsageTable, kinds: Mapping[str, str], units: dict[str, str], shown: str) -> Facts:
    conditions = [when.condition() for when in row.when]
    for condition in conditions:
        check_condition(condition, shown)
    if row.aid is not None:
        _check_aid(row.aid, kinds, shown)
        if units.setdefault(row.aid, row.unit) != row.unit:
            raise BadInput(shown, f"'{row.aid}' is counted in {units[row.aid]} elsewhere", "keep to one unit")
    return {**row.model_dump(mode="json", exclude={"when"}), "when": [pack(c) for c in conditions]}


def _check_aid(aid: str, kinds: Mapping[str, str], shown: str) -> None:
    if kinds.get(aid) != "aid":
        mend = nearest(aid, [item for item, kind in kinds.items() if kind == "aid"])
        raise BadInput(shown, f"there is no aid '{aid}' in the catalog", mend or "see `list aid`")
