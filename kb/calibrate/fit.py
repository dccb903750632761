"""Whole points for levels, from what pairs of chains differ in: an integer programme with the widest margin.

The points x are such that for each pair (better, worse) the sum over levels of (times in worse - times in better) * x
reaches the margin, under laws: what stands above another costs more, and everything costs something. Solved by HiGHS
in scipy; see docs/ranking.md.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

from kb.engine.rank import FREE
from kb.judged.sides import EQUAL_LEVEL
from kb.knowledge.ranking import Level

#: A margin wider than this [points] is not asked for: it would only blow the numbers up.
WIDEST = 12.0
#: What rounding each price to whole points may take from a margin [points].
ROUNDING = 3.0
#: No level costs more.
MOST = 1500
#: What a margin of one point, a point that a comparison lacks, and a doubled level weigh against each other.
_MARGIN, _LACKING, _MOVED = 1.0, 100.0, 0.05


class NoPoints(Exception):
    """No points keep what has to be kept."""


class Pair(NamedTuple):
    """What the better and the worse chain of a comparison hold of each level."""

    comparison: str
    better: Mapping[str, float]
    worse: Mapping[str, float]
    equal: bool = False

    def difference(self) -> dict[str, float]:
        """Give what the worse chain holds more of; below zero where it holds less."""
        names = {**self.better, **self.worse}
        rows = {name: self.worse.get(name, 0.0) - self.better.get(name, 0.0) for name in names if name != FREE}
        return {name: times for name, times in rows.items() if abs(times) > 1e-9}


@dataclass(frozen=True)
class Fit:
    """The points of each level, the margin that every kept pair reaches, and what pairs lack of keeping it."""

    points: Mapping[str, int]
    margin: float
    lacking: Mapping[str, float]


def fit(levels: Mapping[str, Level], pairs: Sequence[Pair]) -> Fit:
    """Find the points that keep most pairs, with the widest margin, near the present ones where nothing asks for more.

    >>> levels = {"free": Level(id="free", what="n", points=0), "hour": Level(id="hour", what="h", points=1),
    ...           "remark": Level(id="remark", what="r", points=5), "doubt": Level(id="doubt", what="d", points=6)}
    >>> found = fit(levels, [Pair("slow-and-sure", {"hour": 20.0}, {"doubt": 1.0})])
    >>> found.lacking, found.points["doubt"] > 20 * found.points["hour"]
    ({}, True)
    """
    return _fitted(levels, pairs)


def _fitted(levels: Mapping[str, Level], pairs: Sequence[Pair], required: str = "", whole: bool = True) -> Fit:
    names = [name for name in levels if name != FREE]
    programme = _Programme()
    for name in names:
        programme.bounded(name, 1, MOST, whole=whole, gain=0.0)
        now = max(levels[name].points, 1)
        # |x - now| as two parts, each paid for by how far it moves the level.
        for part, furthest in (("up", MOST), ("down", now)):
            programme.bounded(f"{name} {part}", 0, furthest, whole=False, gain=-_MOVED / max(now, 5))
        programme.row({name: 1.0, f"{name} up": -1.0, f"{name} down": 1.0}, now, now)
        above = levels[name].above
        if above is not None and above != FREE:
            programme.row({name: 1.0, above: -1.0}, 1.0, np.inf)
    programme.bounded("margin", 0, WIDEST, whole=False, gain=_MARGIN)
    for pair in pairs:
        lack = f"lacking {pair.comparison}"
        if lack not in programme.places:
            most = 0.0 if pair.comparison == required else 1e5
            programme.bounded(lack, 0, most, whole=False, gain=-_LACKING)
        differ = pair.difference()
        if pair.equal:
            for sign in (1.0, -1.0):
                row = {name: sign * times for name, times in differ.items()}
                row[EQUAL_LEVEL] = row.get(EQUAL_LEVEL, 0.0) + 1.0
                programme.row({**row, lack: 1.0}, 1.0, np.inf)
        else:
            programme.row({**differ, "margin": -1.0, lack: 1.0}, ROUNDING, np.inf)
    found = programme.solved()
    lacking = {pair.comparison: found[f"lacking {pair.comparison}"] for pair in pairs}
    return Fit(
        {FREE: 0} | {name: round(found[name]) for name in names},
        found["margin"],
        {name: by for name, by in lacking.items() if by > 1e-6},
    )


def conflict(levels: Mapping[str, Level], pairs: Sequence[Pair], broken: str) -> list[str]:
    """Name the comparisons that no numbers keep as soon as `broken` is kept; itself alone where none keeps that.

    Numbers need not be whole here: that is quicker, and two that contradict each other do so in any numbers.
    """
    try:
        return sorted(_fitted(levels, pairs, required=broken, whole=False).lacking)
    except NoPoints:
        return [broken]


class _Programme:
    """A mixed integer programme, put together by the names of its variables."""

    def __init__(self) -> None:
        self.places: dict[str, int] = {}
        self._bounds: list[tuple[float, float]] = []
        self._whole: list[int] = []
        self._gains: list[float] = []
        self._rows: list[tuple[Mapping[str, float], float, float]] = []

    def bounded(self, name: str, least: float, most: float, *, whole: bool, gain: float) -> None:
        """Add a variable; its `gain` is what one of it is worth."""
        self.places[name] = len(self.places)
        self._bounds.append((least, most))
        self._whole.append(int(whole))
        self._gains.append(gain)

    def row(self, terms: Mapping[str, float], least: float, most: float) -> None:
        """Add a sum that lies between two numbers."""
        self._rows.append((terms, least, most))

    def solved(self) -> dict[str, float]:
        """Find the values of the greatest gain."""
        cells = [(r, self.places[n], times) for r, (terms, _, _) in enumerate(self._rows) for n, times in terms.items()]
        rows, columns, values = zip(*cells, strict=True)
        matrix = coo_array((values, (rows, columns)), shape=(len(self._rows), len(self.places)))
        lower, upper = np.array(self._bounds).T
        found: Any = milp(
            -np.array(self._gains),
            integrality=np.array(self._whole),
            bounds=Bounds(lower, upper),
            constraints=LinearConstraint(matrix.tocsr(), [r[1] for r in self._rows], [r[2] for r in self._rows]),
            options={"mip_rel_gap": 1e-4, "time_limit": 120.0},
        )
        if found.x is None:
            raise NoPoints(f"no points were found: {found.message}")
        return {name: float(found.x[place]) for name, place in self.places.items()}
