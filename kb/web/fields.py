"""The questions of the form that describes a job: what each asks, in what unit, and out of which answers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from kb.base import vocabulary as v


@dataclass(frozen=True, slots=True)
class Question:
    """One field of the job's form. `kind`: text, number, signed (may be below zero), date, one or many of `choices`."""

    name: str
    label: str
    kind: str = "number"
    unit: str = ""
    hint: str = ""
    choices: Sequence[tuple[str, str]] = ()
    #: What counts where nothing is filled in.
    usual: str = ""
    required: bool = False
    #: What the question is called where little room is; its label where that is short enough.
    short: str = ""

    @property
    def id(self) -> str:
        return self.name.replace(".", "-").replace("_", "-")


@dataclass(frozen=True, slots=True)
class Group:
    """Questions that belong together; those of a group that isn't `open` are seen when it is opened."""

    title: str
    questions: tuple[Question, ...]
    open: bool = field(default=False)

    @property
    def usual(self) -> str:
        """What counts where nothing of it is filled in, in words."""
        told = [f"{q.short or q.label.lower()} {q.usual.replace('-', ' ')}" for q in self.questions if q.usual]
        return "; ".join(told)


def words(ids: Sequence[str]) -> tuple[tuple[str, str], ...]:
    """Give each id with how a person reads it.

    >>> words(["sea-water-immersion"])
    (('sea-water-immersion', 'sea water immersion'),)
    """
    return tuple((word, word.replace("-", " ")) for word in ids)


YES_NO = (("", "not said"), ("true", "yes"), ("false", "no"))
GROUPS: tuple[Group, ...] = (
    Group("The part, and what it must stand", (
        Question("part.substrate", "What is the part made of?", "text", required=True,
                 hint="As you would say it: 7075-T651 plate, glass filled nylon, board with green mask."),
        Question("service.temperature_c.0", "Lowest service temperature", "signed", unit="degC", required=True),
        Question("service.temperature_c.1", "Highest service temperature", "signed", unit="degC", required=True),
        Question("service.exposures", "What it is exposed to", "many", choices=words(v.EXPOSURES), usual="dry-air"),
        Question("service.duration_days", "How long it must serve", unit="days", usual="7"),
        Question("limits.ready_within_h", "Must be ready within", unit="h"),
    ), open=True),
    Group("More about the part", (
        Question("part.surface", "Its surface, where the gauge goes", "many", choices=words(v.SURFACES), usual="bare",
                 short="surface"),
        Question("part.max_process_temperature_c", "Most heat it endures while the adhesive cures", unit="degC"),
        Question("part.populated", "Live components nearby?", "one", choices=YES_NO),
        Question("part.thickness_mm", "Thickness", unit="mm"),
        Question("part.clamping", "How the gauge can be pressed down", "one",
                 choices=words(("any", "weights-only", "thumb-only")), usual="any", short="pressed down by"),
        Question("part.orientation", "The face lies", "one",
                 choices=words(("horizontal", "vertical", "overhead")), usual="horizontal"),
        Question("part.no_oven", "Bonded where it stands, no oven?", "one", choices=YES_NO),
        Question("part.no_abrading", "Must its face stay unscratched?", "one", choices=YES_NO[::2] + YES_NO[1:2]),
        Question("part.tested_free_of", "Tested, and found free of", "many", choices=words(v.TESTED_FOR),
                 hint="The part itself, its paint or its plating: a swab, a chip, or a laboratory."),
    )),
    Group("What is measured", (
        Question("service.measurement", "Measurement", "one", usual="static",
                 choices=(("static", "static: zero must hold"), ("dynamic", "dynamic"), ("both", "both"))),
        Question("service.max_strain_ue", "Largest strain", unit="microstrain", usual="2000"),
        Question("service.cycles", "Load cycles"),
        Question("service.peak.temperature_c", "Short peak of temperature", "signed", unit="degC"),
        Question("service.peak.duration_h", "The peak lasts", unit="h"),
        Question("gauge.backing", "Gauge backing", "one",
                 choices=(("", "to be chosen"), *words(v.FAMILIES["backing"]))),
        Question("gauge.grid_mm.0", "Grid length", unit="mm", usual="3"),
        Question("gauge.grid_mm.1", "Grid width", unit="mm", usual="1.6"),
        Question("gauge.matrix_mm.0", "Backing length", unit="mm", usual="7"),
        Question("gauge.matrix_mm.1", "Backing width", unit="mm", usual="4"),
        Question("gauge.cable_m", "Cable from gauge to instrument", unit="m",
                 hint="Along its way. Left out, a usual run is reckoned with, and the estimate says so."),
    )),
    Group("What must not be used", (
        Question("limits.exclude_hazards", "Without these hazards", "many", choices=words(v.HAZARDS)),
        Question("limits.jurisdiction", "Whose exposure limits hold", "one",
                 choices=(("", "the strictest list"), *((word, word.upper() if len(word) == 2 else word.title())
                                                        for word in v.JURISDICTIONS[:-1]))),
        Question("limits.outgassing", "Outgassing limits apply (ASTM E595)", "one", choices=YES_NO[::2] + YES_NO[1:2]),
        Question("limits.removable", "Must it come off again, and leave the part whole?", "one",
                 choices=YES_NO[::2] + YES_NO[1:2]),
    )),
    Group("The batch", (
        Question("batch.boards", "Parts", usual="1"),
        Question("batch.gauges_per_board", "Gauges on each", usual="1"),
        Question("batch.expected_yield", "Share that is good at the first try", usual="0.95",
                 short="good at the first try"),
        Question("batch.confidence", "How sure there must be enough", usual="0.95", short="sure by"),
        Question("batch.technicians", "Technicians", usual="1"),
    )),
    Group("The room", (
        Question("bench.air_temperature_c", "Air", "signed", unit="degC", usual="22"),
        Question("bench.relative_humidity_pct", "Relative humidity", unit="%", usual="45"),
        Question("bench.part_temperature_c", "The part", "signed", unit="degC", usual="22"),
        Question("bench.room_volume_m3", "Volume", unit="m3", usual="60"),
        Question("bench.air_changes_per_h", "Air changes in an hour", usual="4"),
        Question("bench.dust_collector", "Dust of blasting and power tools goes into", "one", usual="none",
                 short="dust collector",
                 choices=(("none", "no collector"), ("dry", "a dry collector"), ("wet", "a wet collector"))),
    )),
    Group("If the material is not in the catalog: what is known of yours", (
        Question("part.substrate.family", "Its family", "one", hint="Where you can't say what it is like.",
                 choices=(("", "not said"), *words(v.FAMILIES["substrate"]))),
        Question("part.substrate.max_temperature_c", "Most heat it endures in use", unit="degC"),
        Question("part.substrate.modulus_gpa", "Stiffness (Young's modulus)", unit="GPa"),
        Question("part.substrate.cte_ppm_per_c", "Thermal expansion", unit="ppm/degC"),
        Question("part.substrate.surface_tension_mn_m", "Critical surface tension", unit="mN/m"),
        Question("part.substrate.porous", "Porous?", "one", choices=YES_NO),
        Question("part.substrate.conductive", "Conducts?", "one", choices=YES_NO),
    )),
    Group("Its name", (
        Question("job.name", "What the job is called", "text"),
        Question("job.planned_on", "Planned for", "date"),
    )),
)  # fmt: skip


QUESTIONS = {question.name: question for group in GROUPS for question in group.questions}


def question_about(field: str) -> Question | None:
    """Give the question that a job's field answers; of a pair of numbers that is faulty as a whole, the first.

    >>> [found.id for name in ("service.temperature_c[1]", "service.temperature_c") if (found := question_about(name))]
    ['service-temperature-c-1', 'service-temperature-c-0']
    """
    name = field.replace("[", ".").replace("]", "")
    return QUESTIONS.get(name) or QUESTIONS.get(f"{name}.0")


def label_of(field: str) -> str:
    """Give the question that a job's field answers; the field itself, where none does.

    >>> label_of("service.temperature_c[1]"), label_of("job.number")
    ('Highest service temperature', 'job.number')
    """
    name = field.replace("[", ".").replace("]", "")
    return QUESTIONS[name].label if name in QUESTIONS else field


def filled(pairs: Sequence[tuple[str, str]]) -> Mapping[str, list[str]]:
    """Tell what a form was filled with, by field."""
    found: dict[str, list[str]] = {}
    for name, value in pairs:
        found.setdefault(name, []).append(value)
    return found
