"""Between which readings of the room a chain may be worked on: by the same rules as the verdict on a room.

Each reading is put to either end of what a room can be, the others left as the job has them; what then speaks against
the work tells how far it must come back.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import NamedTuple

from kb.engine.chain import Chain, finding_of, standings
from kb.engine.plan import Plan
from kb.quantities.bench import verdict_of
from kb.quantities.moves import READINGS, of_readings
from kb.rules.clauses import Scene
from kb.rules.findings import Finding

#: As far as a room, or a part in it, can be from the ordinary.
_ENDS = {
    "air_temperature_c": (-60.0, 80.0),
    "relative_humidity_pct": (0.0, 100.0),
    "part_temperature_c": (-60.0, 400.0),
}


class Window(NamedTuple):
    """The least and the most that a reading may be; None where nothing limits it on that side."""

    least: float | None
    most: float | None


def windows(plan: Plan, chain: Chain) -> dict[str, Window]:
    """Give the window of each reading of the room for a chain; the dew point is not in it, as it hangs on two."""
    return {reading: Window(*(_back(plan, chain, reading, end) for end in _ENDS[reading])) for reading in READINGS}


def _back(plan: Plan, chain: Chain, reading: str, end: float) -> float | None:
    """Tell how far a reading must come back from one end; None where nothing speaks against the end itself."""
    scene = {**plan.screened.scene, "bench": {**(plan.screened.scene["bench"] or {}), reading: end}}
    moves = of_readings(list(_against(plan, chain, reading, scene)), scene, chain)
    falls = end == max(_ENDS[reading])
    return next((move.target for move in moves if (move.reading, move.falls) == (reading, falls)), None)


def _against(plan: Plan, chain: Chain, reading: str, scene: Scene) -> Iterator[Finding]:
    """Give what speaks against working on the chain in a room, of the rules that read that reading."""
    screened = replace(plan.screened, scene=scene)
    picks, wait_from = dict(enumerate(chain.picks)), plan.knowledge.tables["usage"]["bench"]["wait_from"]
    for rule in plan.knowledge.rules:
        if rule.verdict != "prefer" and f"bench.{reading}" in rule.facts():
            for binding in standings(rule):
                finding = finding_of(screened, rule, binding, picks)
                if finding is not None and verdict_of(finding, screened.ranking, wait_from) != "go":
                    yield finding
