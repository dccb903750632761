"""The job file: what is asked of a bond, with every default filled in and every fault named.

>>> job = job_of({"part": {"substrate": "brass"}, "service": {"temperature_c": ["50 degF", 60]}}, "quick")
>>> job.service.temperature_c, job.bench.relative_humidity_pct
((10.0, 60.0), 45.0)
"""

import datetime
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, field_validator, model_validator

from kb.base import surfaces
from kb.base import vocabulary as v
from kb.base.errors import BadInput, near_or_all, nearest
from kb.base.files import read_toml, validated
from kb.base.lexicon import folded
from kb.base.models import Celsius, Table
from kb.base.surroundings import Conditions, Surroundings, heated_as, not_judged, said_as, split
from kb.base.surroundings import check as check_conditions

Positive = Annotated[float, Field(gt=0, le=1e12, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0, le=1e12, allow_inf_nan=False)]
Count = Annotated[int, Field(ge=1, le=1_000_000)]
Fraction = Annotated[float, Field(gt=0, le=1, allow_inf_nan=False)]
Pair = tuple[Positive, Positive]
#: A chain has no more coats than this.
MOST_COATS = 3
#: No cable of a gauge is longer; a length beyond is a slip of the unit.
MOST_CABLE_M = 10_000.0


# No `from __future__ import annotations` here: pydantic would have to compile each annotation from its text.


def _known(words: tuple[str, ...], allowed: tuple[str, ...], what: str) -> tuple[str, ...]:
    for word in words:
        if word not in allowed:
            raise ValueError(f"'{word}' is not {what}; {near_or_all(word, allowed)}")
    return tuple(dict.fromkeys(words))


class About(Table):
    name: Annotated[str, Field(max_length=200)] = "unnamed job"
    planned_on: datetime.date | None = None


class Part(Table):
    #: Fields by the names that older job files have for them.
    FORMER: ClassVar[Mapping[str, str]] = {"in_place": "no_oven"}

    substrate: str | dict[str, Any]
    surface: tuple[str, ...] = ("bare",)
    max_process_temperature_c: Celsius | None = None
    populated: bool | None = None
    thickness_mm: Positive | None = None
    clamping: Literal["any", "weights-only", "thumb-only"] = "any"
    orientation: Literal["horizontal", "vertical", "overhead"] = "horizontal"
    no_oven: bool | None = Field(
        None, description="no oven takes it: it is bonded where it stands; left out: where its face isn't level"
    )
    no_abrading: bool = Field(False, description="nothing may scratch, grind or blast the face")
    #: What a test of this very part, its paint or its plating has shown to be absent.
    tested_free_of: tuple[str, ...] = ()

    @field_validator("surface")
    @classmethod
    def _surfaces(cls, words: tuple[str, ...]) -> tuple[str, ...]:
        meant = tuple(map(surfaces.named, words))
        for word in meant:
            if word not in v.SURFACES and (told := not_judged("surfaces").get(folded(word))):
                raise ValueError(f"'{word}' is not judged as a surface; {told}")
        return _known(meant, v.SURFACES, "a surface")

    @field_validator("tested_free_of")
    @classmethod
    def _tested(cls, words: tuple[str, ...]) -> tuple[str, ...]:
        return _known(words, v.TESTED_FOR, "what a part is tested for")

    @field_validator("substrate")
    @classmethod
    def _substrate(cls, words: str | dict[str, Any]) -> str | dict[str, Any]:
        if not words or (isinstance(words, str) and not words.strip()):
            raise ValueError("is empty; name the material, or describe it with like, family and what is known")
        return words


class Peak(Table):
    temperature_c: Celsius
    duration_h: Positive = 1.0


class Service(Table):
    temperature_c: tuple[Celsius, Celsius]
    peak: Peak | None = None
    exposures: tuple[str, ...] = ("dry-air",)
    conditions: dict[str, Conditions] = Field({}, description="figures of exposures, by exposure")
    thermal_cycles: NotNegative = 10.0
    duration_days: Positive = 7.0
    measurement: Literal["static", "dynamic", "both"] = "static"
    max_strain_ue: Positive = 2000.0
    cycles: NotNegative | None = None

    @field_validator("exposures")
    @classmethod
    def _exposures(cls, words: tuple[str, ...]) -> tuple[str, ...]:
        if not words:
            raise ValueError('is empty; for a dry room write ["dry-air"]')
        for word in words:
            if word not in v.EXPOSURES:
                if told := not_judged().get(folded(word)):
                    raise ValueError(f"'{word}' is not judged as an exposure; {told}")
                if heated := heated_as().get(folded(word)):
                    raise ValueError(f"'{word}' is {heated} and a heat; write {heated}, and the heat in temperature_c")
                mend = nearest(word, v.EXPOSURES) or nearest(word, said_as()) or f"known: {', '.join(v.EXPOSURES)}"
                raise ValueError(f"'{word}' is not an exposure; {mend}")
        return tuple(dict.fromkeys(words))

    @model_validator(mode="before")
    @classmethod
    def _figures(cls, data: Any) -> Any:
        """Read what each exposure is called, and take its figures, where an entry is a table, to `conditions`."""
        if not isinstance(data, Mapping) or not isinstance(data.get("exposures"), (list, tuple)):
            return data
        words, said = split(data["exposures"])
        return {**data, "exposures": words, **({"conditions": {**data.get("conditions", {}), **said}} if said else {})}

    @model_validator(mode="after")
    def _met(self) -> Self:
        check_conditions(self.exposures, self.conditions)
        return self

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        low, high = self.temperature_c
        if low > high:
            raise ValueError(f"temperature_c: minimum {low:g} degC is above maximum {high:g} degC; write [low, high]")
        if self.peak is not None and self.peak.temperature_c < high:
            raise ValueError(f"peak.temperature_c: {self.peak.temperature_c:g} degC is below the maximum {high:g} degC")
        return self

    def surroundings(self) -> Surroundings:
        """Tell what surrounds the gauge, for rules to read."""
        peak_c = None if self.peak is None else self.peak.temperature_c
        return Surroundings(self.exposures, self.conditions, self.temperature_c, peak_c, self.duration_days)


class Gauge(Table):
    backing: str | None = None
    grid_mm: Pair = (3.0, 1.6)
    matrix_mm: Pair = (7.0, 4.0)
    cable_m: Positive | None = Field(
        None, le=MOST_CABLE_M, description="along its way to the instrument; left out, a usual run is reckoned with"
    )

    @field_validator("backing")
    @classmethod
    def _backing(cls, word: str | None) -> str | None:
        return word if word is None else _known((word,), v.FAMILIES["backing"], "a backing family")[0]

    @model_validator(mode="after")
    def _grid_within(self) -> Self:
        """Refuse a grid larger than the backing that it lies on, be that given or the usual one."""
        sides = zip(sorted(self.grid_mm), sorted(self.matrix_mm), strict=True)
        if "grid_mm" in self.model_fields_set and any(grid > matrix for grid, matrix in sides):
            grid, matrix = (" x ".join(f"{side:g}" for side in size) for size in (self.grid_mm, self.matrix_mm))
            raise ValueError(f"grid_mm {grid} is larger than matrix_mm {matrix}; give the backing's whole size there")
        return self


class Batch(Table):
    boards: Count = 1
    gauges_per_board: Count = 1
    expected_yield: Fraction = 0.95
    confidence: Annotated[float, Field(gt=0, lt=1)] = 0.95
    technicians: Count = 1


class Bench(Table):
    air_temperature_c: Annotated[float, Field(ge=-60, le=80)] = 22.0
    relative_humidity_pct: Annotated[float, Field(ge=0, le=100)] = 45.0
    part_temperature_c: Annotated[float, Field(ge=-273.15, le=400)] = 22.0
    room_volume_m3: Positive = 60.0
    air_changes_per_h: NotNegative = 4.0
    #: What dust of blasting and of power tools is drawn into.
    dust_collector: Literal["none", "dry", "wet"] = "none"


class Limits(Table):
    ready_within_h: Positive | None = None
    exclude_hazards: tuple[str, ...] = ()
    outgassing: bool = False
    removable: bool = Field(False, description="all of it must come off again after the test, and leave the part whole")
    #: Whose limits of exposure hold; left out, the strictest list counts, and the answer says whose it is.
    jurisdiction: str | None = None

    @field_validator("jurisdiction")
    @classmethod
    def _jurisdiction(cls, word: str | None) -> str | None:
        return word if word is None else _known((word,), v.JURISDICTIONS[:-1], "a jurisdiction")[0]

    @field_validator("exclude_hazards")
    @classmethod
    def _hazards(cls, words: tuple[str, ...]) -> tuple[str, ...]:
        return _known(words, v.HAZARDS, "a hazard")


def _words_of(value: Any) -> Any:
    """Take one word as a list of one."""
    return (value,) if isinstance(value, str) else value


#: Items by id or name, or families: any of them will do.
Chosen = Annotated[tuple[str, ...], BeforeValidator(_words_of)]


class Choose(Table):
    """What was chosen for a job, and is kept: each of a chain's places that is named holds one of what is named.

    `coatings` are the coats from the innermost on; an empty list is none. `chosen_on` and `knowledge` say when, and
    from which knowledge, `tackroom choose` wrote it.
    """

    adhesive: Chosen | None = None
    cure: str | None = None
    backing: Chosen | None = None
    treatment: Chosen | None = None
    coatings: tuple[Chosen, ...] | None = None
    prefer: str | None = None
    stock: bool = False
    chosen_on: datetime.date | None = None
    knowledge: str | None = None

    @field_validator("coatings")
    @classmethod
    def _coats(cls, coats: tuple[tuple[str, ...], ...] | None) -> tuple[tuple[str, ...], ...] | None:
        if coats is not None and len(coats) > MOST_COATS:
            raise ValueError(f"{len(coats)} coats are more than a chain has; name {MOST_COATS} at the most")
        return coats

    @property
    def pins(self) -> bool:
        """Whether any place of the chain is chosen."""
        return any(
            given is not None for given in (self.adhesive, self.cure, self.backing, self.treatment, self.coatings)
        )

    def facts(self) -> dict[str, Any]:
        """Give the facts by name: what is chosen, and of each place whether anything is."""
        facts: dict[str, Any] = {}
        for name in ("adhesive", "backing", "treatment", "cure"):
            given = getattr(self, name)
            facts |= {f"{name}_given": given is not None, name: given}
        coats = self.coatings or ()
        for place in range(MOST_COATS):
            given = place < len(coats)
            facts[f"coat_{place + 1}_given"] = given
            facts[f"coat_{place + 1}"] = coats[place] if given else None
            facts[f"coat_{place + 1}_barred"] = self.coatings is not None and not given
        return facts


class Job(BaseModel):
    """A job as read, with defaults."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    job: About = Field({}, validate_default=True)
    part: Part
    service: Service
    gauge: Gauge = Field({}, validate_default=True)
    batch: Batch = Field({}, validate_default=True)
    bench: Bench = Field({}, validate_default=True)
    limits: Limits = Field({}, validate_default=True)
    choose: Choose = Field({}, validate_default=True)


def job_of(data: Mapping[str, Any], where: str) -> Job:
    """Give the job that `data` describes; BadInput names `where`, the field, and the mend."""
    for table in ("part", "service"):
        if table not in data:
            raise BadInput(where, f"[{table}] is missing", "every job needs [part] and [service]")
    return validated(Job, data, where)


def read_job(path: Path) -> Job:
    """Give the job in the file at `path`."""
    return job_of(read_toml(path), str(path))
