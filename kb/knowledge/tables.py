"""What the shared tables of the knowledge hold: plain values as they are compiled, typed for who reads them.

Read for types alone, so that no command pays for it. `tests/knowledge/test_tables.py` holds each to what is built.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

# Not from typing: in Python 3.11 only these can be checked against the values, which a test does.
from typing_extensions import NotRequired, TypedDict  # noqa: UP035

from kb.knowledge.index import Index
from kb.knowledge.name_tables import LookupTable, WordsTable
from kb.knowledge.packing import Packed
from kb.knowledge.usage_tables import UsageTables
from kb.rules.clauses import Facts


class StepCosts(TypedDict):
    """The level of a filled slot, and hands-on minutes of each slot's stage."""

    level: str
    minutes: Mapping[str, float]


class HazardCosts(TypedDict):
    """The level of a hazard, and of those that count otherwise."""

    usual: str
    of: Mapping[str, str]


class WaitRow(TypedDict):
    """The level of so many hours of waiting, before a service of at most so many days."""

    up_to_days: NotRequired[float]
    level: str
    hours: float


class HeatCosts(TypedDict):
    """Which heat of a cure is more than the service asks for [degC], and the level of so much of it."""

    beyond_c: float
    least_c: float
    per_c: float
    level: str


class HeadroomRow(TypedDict):
    """The facts that are a kind's limits, how far a job should keep from them, and the level of a degree too little.

    Where `brief_` facts are named, they are the limits for a service of no more than so many days; up to
    `days_high_days` the hot one lies between that and the one for life: calculation limit-for-days.
    """

    slot: str
    high: str
    low: str
    want_c: float
    degree: str
    brief_high: NotRequired[str]
    brief_high_days: NotRequired[float]
    days_high_days: NotRequired[float]
    brief_low: NotRequired[str]
    brief_low_days: NotRequired[float]


class RankingTable(TypedDict):
    """generic_catalog/ranking.toml, the points of every level, and what it means"""

    basis: NotRequired[str]
    levels: Mapping[str, int]
    means: Mapping[str, str]
    verdicts: Mapping[str, str]
    time: Sequence[WaitRow]
    heat: HeatCosts
    steps: StepCosts
    hazards: HazardCosts
    known: Mapping[str, str]
    headroom: Sequence[HeadroomRow]
    prefer: Mapping[str, Mapping[str, int]]


class AnswerRow(TypedDict):
    """What may be answered, and what that says of a material."""

    key: str
    say: str
    sets: Facts


class QuestionRow(TypedDict):
    """A question of generic_catalog/questions.toml."""

    id: str
    ask: str
    test: str
    sheet: str
    answers: tuple[AnswerRow, ...]
    number: str | None
    unit: str
    tries: tuple[float, ...]
    choice: str | None
    facts: tuple[str, ...]


class LimitRow(TypedDict):
    """What a measured quantity must keep."""

    quantity: str
    unit: str
    at_most: float | None
    at_least: float | None


class StepRow(TypedDict):
    """A step of generic_catalog/steps/."""

    stage: str
    item: str | None
    do: str
    hands_min: float
    wait_s: float | None
    wait_min: float | str | None
    wait_for: str
    heat: str | None
    pressed: bool
    at_once: bool
    must: tuple[str, ...]
    never: tuple[str, ...]
    because: str
    when: tuple[Packed, ...]
    limit: LimitRow | None
    proves: bool


class LayersTable(TypedDict):
    """generic_catalog/layers.toml: what the layer of a part still says of it once it is off."""

    basis: str
    kept: tuple[str, ...]
    lowest: tuple[str, ...]
    stated: tuple[str, ...]
    joined: tuple[str, ...]
    true: tuple[str, ...]
    body: tuple[str, ...]
    on_any_metal: tuple[str, ...]
    looks: tuple[str, ...]
    called: Mapping[str, Sequence[str]]


class SpreadRow(TypedDict, total=False):
    """How far a field's values lie apart within a class: so much, such a share, or one step of a scale."""

    why: str
    fields: tuple[str, ...]
    plus: float
    share_pct: float
    steps: tuple[str, ...]


class Tables(TypedDict, total=False):
    """All shared tables. Knowledge that is made for a search alone has fewer."""

    ranking: RankingTable
    words: WordsTable
    lookup: LookupTable
    layers: LayersTable
    questions: tuple[QuestionRow, ...]
    steps: tuple[StepRow, ...]
    spreads: tuple[SpreadRow, ...]
    usage: UsageTables
    #: generic_catalog/mixtures.toml and reactive_groups.toml: see kb.knowledge.mixtures.
    mixtures: Facts
    reactive_groups: Facts
    #: What chemicals do to each other, and what people ask for by class: see kb.knowledge.reactivity and asked.
    reactivity: Facts
    asked: Facts


class Compiled(TypedDict):
    """All of the knowledge in plain values, as it is kept."""

    #: Id, kind, family, name and facts.
    entries: Sequence[tuple[str, str, str, str, Facts]]
    rules: Sequence[Packed]
    #: Rules of things that no chain uses, which only a check reads.
    beside: Sequence[Packed]
    sources: Mapping[str, Facts]
    tables: Tables
    notes: Sequence[str]
    index: Mapping[str, Index]


class Kept(TypedDict):
    """What the cache holds: how the files looked, what was in them, and what was made of that."""

    mark: str
    digest: str
    payload: Compiled
