"""What the tables of amounts hold: plain values as they are compiled, typed for who reads them.

Read for types alone, as those of `kb.knowledge.tables`.
"""

from __future__ import annotations

# Not from typing: in Python 3.11 only these can be checked against the values, which a test does.
from typing_extensions import TypedDict

from kb.knowledge.packing import Packed


class WasteRow(TypedDict):
    """What is lost beside what is used."""

    why: str
    pct: float
    amount: float
    drops: float
    per: str


class UsageRow(TypedDict):
    """How much of one thing a stage takes."""

    stage: str
    role: str | None
    aid: str | None
    unit: str
    amount: float
    told: str | None
    drops: float
    per_cm2: float
    film: str | None
    margin_mm: float
    step_mm: float
    per: str
    holds: float
    reused: bool
    most: float | None
    spread: tuple[float, float]
    waste: tuple[WasteRow, ...]
    when: tuple[Packed, ...]
    why: str
    basis: str


class WasteKindRow(TypedDict):
    """One kind of waste, and how it is kept."""

    kind: str
    hazards: tuple[str, ...]
    aids: tuple[str, ...]
    dust_stages: tuple[str, ...]
    do: str
    basis: str


class DropFigures(TypedDict):
    """How much a drop is, in millilitres and in grams."""

    mL: float
    g: float
    basis: str


class FilmFigures(TypedDict):
    """What a dry film weighs, and how much of a wet one stays at least."""

    density_g_ml: float
    least_solids_pct: float
    basis: str


class MixingFigures(TypedDict):
    """How two parts are weighed and stirred."""

    resolution_g: float
    fine_resolution_g: float
    ratio_tolerance: float
    smallest_g: float
    stir_min: float
    travel_min: float
    cup_pct: float
    reference_c: float
    q10: float
    pot_mass_g: float
    basis: str


class AirFigures(TypedDict):
    """What counts as volatile and as a main part, at which share of a limit to take care and to stop, the most air."""

    volatile_from_kpa: float
    main_from_pct: float
    caution_share: float
    stop_share: float
    most_changes_per_h: float
    basis: str


class BenchFigures(TypedDict):
    """When the room is not fit."""

    #: The level of doubt from which it is better to wait.
    wait_from: str
    stop_margin_c: float
    driest_pct: float
    basis: str


class BinFigures(TypedDict):
    """What kinds of thing stay on the part, soak up what is wiped, and are no waste."""

    stays: tuple[str, ...]
    soaks: tuple[str, ...]
    apart: tuple[str, ...]
    basis: str


class UsageTables(TypedDict):
    """All of generic_catalog/usage/."""

    rows: tuple[UsageRow, ...]
    waste: tuple[WasteKindRow, ...]
    drop: DropFigures
    film: FilmFigures
    mixing: MixingFigures
    air: AirFigures
    bench: BenchFigures
    bins: BinFigures
