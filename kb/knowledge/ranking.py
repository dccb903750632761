"""The ranking as data: what criteria there are (ranking.toml), and how many points each level stands for (levels.toml).

A lab's own numbers, where it has worked some out, stand in catalog/levels.toml of its workspace.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, cast

from pydantic import Field

from kb.base.errors import BadInput, near_or_all
from kb.base.files import read_toml, validated
from kb.base.models import Id, Strict, Text
from kb.rules.clauses import Facts

if TYPE_CHECKING:
    from kb.knowledge.tables import HeadroomRow, RankingTable

LEVELS_FILE = "levels.toml"
RANKING_FILE = "ranking.toml"


class Level(Strict):
    """What one judgement costs."""

    id: Id
    what: Text
    above: Id | None = Field(None, description="a level that this one costs more than")
    points: Annotated[int, Field(ge=0, le=10_000)]


class LevelsFile(Strict):
    levels: tuple[Level, ...]


def load_levels(path: Path, shown: str) -> dict[str, Level]:
    """Load the levels by id; BadInput where one stands twice or below the level that it is to exceed."""
    levels: dict[str, Level] = {}
    for level in validated(LevelsFile, read_toml(path, shown), shown).levels:
        if level.id in levels:
            raise BadInput(shown, f"'{level.id}' stands twice", "keep one")
        if level.above is not None:
            if level.above not in levels:
                raise BadInput(
                    shown, f"{level.id}: no '{level.above}' stands before it", near_or_all(level.above, levels)
                )
            if levels[level.above].points >= level.points:
                raise BadInput(shown, f"{level.id}: costs no more than '{level.above}'", "run `python -m kb.calibrate`")
        levels[level.id] = level
    return levels


def load_ranking(where: Mapping[str, Path]) -> RankingTable:
    """Load the ranking with the points of every level; BadInput where it names a level that there isn't.

    `where` names the folders that knowledge comes from.
    """
    catalog = where["generic_catalog"]
    levels = load_levels(catalog / LEVELS_FILE, f"{catalog.name}/{LEVELS_FILE}")
    points = {level.id: level.points for level in levels.values()}
    own = where["house catalog"] / LEVELS_FILE if "house catalog" in where else None
    if own is not None and own.is_file():
        theirs = load_levels(own, str(own))
        if set(theirs) != set(levels):
            odd = sorted(set(theirs) ^ set(levels))[0]
            raise BadInput(
                str(own), f"'{odd}' is not a level of both tables", "run `python -m kb.calibrate` there again"
            )
        points = {level.id: level.points for level in theirs.values()}
    table = read_toml(catalog / RANKING_FILE, f"{catalog.name}/{RANKING_FILE}")
    for level in named_levels(table):
        if level not in points:
            raise BadInput(f"{catalog.name}/{RANKING_FILE}", f"there is no level '{level}'", near_or_all(level, points))
    means = {level.id: level.what for level in levels.values()}
    return cast("RankingTable", {**table, "levels": points, "means": means})


def limits_of(row: HeadroomRow) -> tuple[str, ...]:
    """List the facts that a row of headroom may read."""
    brief = (row[name] for name in ("brief_high", "brief_low") if name in row)
    return (row["high"], row["low"], *brief)


def named_levels(table: Facts) -> Iterator[str]:
    """List the levels that the ranking's criteria name."""
    yield from table["verdicts"].values()
    yield from (row["level"] for row in table["time"])
    yield table["heat"]["level"]
    yield table["steps"]["level"]
    yield table["hazards"]["usual"]
    yield from table["hazards"]["of"].values()
    yield from table["known"].values()
    yield from (row["degree"] for row in table["headroom"])
