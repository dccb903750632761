"""What to change in a room so that what the rules say against it falls silent."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from math import ceil, floor
from typing import Any

from kb.engine.chain import Chain, scene_with
from kb.engine.slots import bindings
from kb.job import Bench
from kb.rules.clauses import NUMERIC, Calculation, Clause, Ref, Scene, all_of
from kb.rules.findings import Finding
from kb.rules.roles import SLOT_ROLES
from kb.rules.rule import Rule

#: Readings of the room that decide about work; its size and air changes are about vapour.
READINGS = ("air_temperature_c", "relative_humidity_pct", "part_temperature_c")
#: The least difference that such an instrument shows.
_TOLD = {"air_temperature_c": 0.1, "relative_humidity_pct": 1.0, "part_temperature_c": 0.1}
_SLACK = 1e-9


@dataclass(frozen=True, slots=True)
class Move:
    """How a reading of the room must change for a rule to fall silent: up or down to `target`; or else `instead`."""

    reading: str
    falls: bool
    target: float
    instead: str = ""

    def __str__(self) -> str:
        """Tell what to do.

        >>> print(Move("part_temperature_c", False, 14.26), "/", Move("relative_humidity_pct", True, 65.0))
        warm the part to 14.3 degC or more / dry the room to 65 % or less
        """
        if self.reading == "relative_humidity_pct":
            verb, thing, unit = "dry" if self.falls else "humidify", "room", "%"
        else:
            thing = "part" if self.reading == "part_temperature_c" else "room"
            verb, unit = "cool" if self.falls else "warm", "degC"
        # Rounded to the safe side: what is told must be enough.
        tenths = floor(10 * self.target + _SLACK) if self.falls else ceil(10 * self.target - _SLACK)
        said = f"{verb} the {thing} to {tenths / 10:g} {unit} or {'less' if self.falls else 'more'}"
        return f"{said}, or {self.instead}" if self.instead else said


def changes(found: Sequence[Finding], scene: Scene, chain: Chain, room: Bench, driest_pct: float) -> list[Move]:
    """Tell what would silence the findings, worked out from the very conditions that hold: of each kind the furthest.

    No room is to be dried below `driest_pct`.

    The dew point is seen to last, in the room as the other changes leave it: drying the air moves it too.
    """
    moves = of_readings(found, scene, chain)
    readings = {move.reading: move.target for move in moves}
    mended = room.model_copy(update=readings)
    moves += _furthest(
        found,
        {**scene, "bench": mended.model_dump()},
        chain,
        lambda clause, left, right: _of_dew_point(clause, left, right, mended, driest_pct),
    )
    return moves


def of_readings(found: Sequence[Finding], scene: Scene, chain: Chain) -> list[Move]:
    """Tell how each reading must move for the findings that compare it; of each kind the furthest."""
    return _furthest(found, scene, chain, _of_reading)


def _furthest(
    found: Sequence[Finding], scene: Scene, chain: Chain, undone: Callable[[Clause, Any, Any], Move | None]
) -> list[Move]:
    by_slot = dict(enumerate(chain.picks))
    furthest: dict[tuple[str, bool], Move] = {}
    for finding in found:
        roles = frozenset(r for r in finding.rule.roles() if r in SLOT_ROLES)
        for binding in bindings(roles) if finding.known else ():
            here = scene_with(scene, binding, by_slot)
            for clause in _holding(finding.rule, here):
                move = undone(clause, *clause.sides(here))
                if move is not None:
                    known = furthest.setdefault((move.reading, move.falls), move)
                    if (move.target < known.target) if move.falls else (move.target > known.target):
                        furthest[move.reading, move.falls] = move
    return [furthest[key] for key in sorted(furthest)]


def _holding(rule: Rule, scene: Scene) -> Iterator[Clause]:
    """Give the comparisons of numbers by which a rule holds in `scene`."""
    if all_of(condition.truth(scene) for condition in rule.when) is not True:
        return
    for condition in rule.when:
        for clause in condition.clauses:
            if clause.op in NUMERIC and clause.truth(scene):
                yield clause


def _of_reading(clause: Clause, _: Any, limit: Any) -> Move | None:
    """Tell how a reading must move to keep the limit that it is compared with."""
    role, _, reading = clause.fact.partition(".") if isinstance(clause.fact, str) else ("", "", "")
    if role != "bench" or reading not in READINGS:
        return None
    # A limit at which the rule still speaks is to be passed by what a room's instrument can tell.
    passed = {"at-least": -_TOLD[reading], "at-most": _TOLD[reading]}.get(clause.op, 0.0)
    return Move(reading, clause.op in ("above", "at-least"), limit + passed)


def _of_dew_point(clause: Clause, dew_c: Any, _: Any, room: Bench, driest_pct: float) -> Move | None:
    """Tell how far the part must be warmed, or the room dried, to stand clear of the dew point."""
    if not isinstance(clause.fact, Calculation) or clause.fact.name != "dew-point" or not isinstance(clause.value, Ref):
        return None
    drier = _dry_enough(room, room.part_temperature_c + clause.value.plus, driest_pct)
    instead = "" if drier is None else str(Move("relative_humidity_pct", True, drier))
    return Move("part_temperature_c", False, dew_c - clause.value.plus, instead)


def _dry_enough(room: Bench, dew_c: float, driest_pct: float) -> int | None:
    """Give the relative humidity [%] at which the room's dew point is `dew_c` [degC]; None where no drying would do."""
    from kb.calc import climate

    if not -60 < dew_c < room.air_temperature_c:
        return None
    # Whole per cent, on the dry side, and nothing that no room reaches.
    whole = int(climate.humidity_of_dew_point_pct(room.air_temperature_c, dew_c))
    return whole if whole >= driest_pct else None
