"""What a calibration leaves behind: the points in the file of the levels, and the page about it (docs/ranking.md)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

import tomlkit
from jinja2 import Environment, PackageLoader, StrictUndefined

from kb.calibrate.rounds import FOLDS, Round
from kb.judged import Held
from kb.knowledge.ranking import Level

#: So many of the narrowest comparisons are told.
NARROWEST = 10


class Told(NamedTuple):
    """What is told of a calibration: where it came to, and what the left-out tenths showed, where any were left out."""

    best: Round
    missed: Sequence[str] | None
    #: Of each comparison that can't be kept: what can't be kept together with it.
    conflicts: Mapping[str, Sequence[str]]


def write_points(path: Path, points: Mapping[str, int]) -> None:
    """Write the points into the file of the levels, and leave all else in it as it is."""
    document = tomlkit.parse(path.read_text(encoding="utf-8"))
    for table in document["levels"]:
        table["points"] = points[str(table["id"])]
    path.write_text(tomlkit.dumps(document), encoding="utf-8")


def page(told: Told, levels: Mapping[str, Level]) -> str:
    """Write the page about the ranking."""
    environment = Environment(
        loader=PackageLoader("kb.calibrate"), trim_blocks=True, lstrip_blocks=True, undefined=StrictUndefined
    )
    held = told.best.held
    return environment.get_template("ranking.md").render(
        told=told,
        levels=levels,
        number=len(held),
        equal=sum(each.comparison.equal for each in held),
        folds=FOLDS,
        narrowest=narrowest(held),
    )


def narrowest(held: Sequence[Held]) -> list[Held]:
    """List the comparisons that are kept by least, narrowest first; equals are not among them."""
    kept = [each for each in held if each.kept and not each.comparison.equal]
    return sorted(kept, key=lambda each: (each.margin, each.comparison.id))[:NARROWEST]


def differences(held: Held) -> str:
    """Say what the two chains of a comparison differ in, level by level."""
    names = sorted({*held.better.times, *held.worse.times})
    rows = [(name, held.worse.times.get(name, 0.0) - held.better.times.get(name, 0.0)) for name in names]
    told = [f"{times:+.3g} {name}" for name, times in rows if abs(times) > 1e-9]
    return "the worse has " + (", ".join(told) or "the same of every level")
