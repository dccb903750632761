"""What an option costs by itself, criterion by criterion, in the points of generic_catalog/ranking.toml."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, NamedTuple

from kb.engine.domain import EMPTY, Domain, Option
from kb.engine.search.masks import merged
from kb.engine.search.problem import Levels
from kb.knowledge.index import HANDS
from kb.rules.clauses import Facts, Missing, Value, look_up
from kb.rules.roles import SLOTS
from kb.rules.rule import Rule

if TYPE_CHECKING:
    from kb.knowledge.tables import RankingTable

CRITERIA = (
    "cautions",
    "unknowns",
    "needs",
    "preferences",
    "time to ready",
    "temperature headroom",
    "steps",
    "hazards",
    "basis of the knowledge",
)
#: Times are whole milliseconds inside the search, so that a sum doesn't depend on its order.
MS_PER_MINUTE = 60_000


class Headroom(NamedTuple):
    """How far a job keeps from an item's limits: which facts these are, and how much is enough."""

    high: str
    low: str
    want_c: float
    points_per_c: float

    def of(self, high: Value, low: Value, service: Facts) -> tuple[float, float]:
        """Give the degrees between the job and the nearer limit, and the points for what is short of enough."""
        if high is None or low is None:
            return 0.0, self.want_c * self.points_per_c
        margin = min(high - service["high_c"], service["low_c"] - low)
        return margin, max(0.0, self.want_c - margin) * self.points_per_c


class Ranking:
    """The table of points, with the user's preference applied: it multiplies the points of a criterion."""

    def __init__(self, table: RankingTable, prefer: str | None = None) -> None:
        self.table = table
        self.scale: Mapping[str, int] = table["prefer"][prefer] if prefer else {}
        self.headroom = {
            row["slot"]: Headroom(row["high"], row["low"], row["want_c"], row["points_per_c"])
            for row in table["headroom"]
        }
        self._own: dict[str, Levels] = {}

    def scaled(self, criterion: str, points: float) -> int:
        """Round to whole points; half up, so that it doesn't depend on whether a number is even."""
        return int(points * self.scale.get(criterion, 1) + 0.5)

    def of_rule(self, rule: Rule, known: bool) -> tuple[str, int]:
        """Give criterion and points of a rule that holds (or, not `known`, may hold); a preference is below zero."""
        weights = self.table["verdicts"]
        if rule.verdict == "prefer":
            weight = 0 if rule.omits and rule.weight is None else rule.weight
            return "preferences", -self.scaled("preferences", weights["prefer"] if weight is None else weight)
        if not known:
            usual = weights.get("unknown-block", weights["unknown"]) if rule.verdict == "block" else weights["unknown"]
            weight = usual if rule.weight is None else min(rule.weight, usual)
            return "unknowns", self.scaled("unknowns", weight)
        criterion, verdict = ("needs", "need") if rule.verdict == "need" else ("cautions", "caution")
        return criterion, self.scaled(criterion, weights[verdict] if rule.weight is None else rule.weight)

    def of_minutes(self, minutes: float) -> int:
        """Give the points of so many minutes."""
        return self.scaled("time to ready", minutes / 60 * self.table["time"]["points_per_hour"])

    def of_hazards(self, hazards: Iterable[str]) -> int:
        """Give the points of an item's hazards."""
        weights, usual = self.table["hazards"]["of"], self.table["hazards"]["points"]
        return self.scaled("hazards", sum(weights.get(hazard, usual) for hazard in hazards))

    def of_basis(self, basis: str) -> int:
        """Give the points of what the knowledge of an item rests on."""
        return self.scaled("basis of the knowledge", self.table["basis_points"][basis])

    def of_option(self, slot: str, option: Option, service: Facts) -> dict[str, tuple[float, str, int]]:
        """Give, by criterion, the value, its unit, and the points. Empty for an empty slot."""
        if option.entry is None:
            return {}
        facts = option.entry.facts
        minutes = self.minutes(slot, option)
        hazards = facts.get("hazards", ())
        criteria = {
            "time to ready": (minutes, "min", self.of_minutes(minutes)),
            "steps": (1.0, "steps", self.scaled("steps", self.table["steps"]["points"])),
            "hazards": (float(len(hazards)), "hazards", self.of_hazards(hazards)),
            "basis of the knowledge": (
                float(self.table["basis_points"][facts["basis"]]),
                "points",
                self.of_basis(facts["basis"]),
            ),
        }
        kind = SLOTS[slot].kind
        if kind in self.headroom:
            room = self.headroom[kind]
            scene = {kind: facts, "cure": option.cure}
            high, low = look_up(room.high, scene), look_up(room.low, scene)
            margin, short = room.of(
                None if isinstance(high, Missing) else high, None if isinstance(low, Missing) else low, service
            )
            criteria["temperature headroom"] = (margin, "degC", self.scaled("temperature headroom", short))
        return criteria

    def minutes(self, slot: str, option: Option) -> float:
        """Sum the minutes that the option takes: its stage's own and what drying, curing or coating adds."""
        if option.entry is None:
            return 0.0
        spent = float(self.table["steps"]["minutes"][slot])
        return spent + float(option.entry.facts.get(HANDS, 0.0))

    def levels(self, slot: str, domain: Domain, among: int, service: Facts) -> dict[tuple[int, int], int]:
        """Group options by (points, milliseconds) of their own: as `of_option`, for all `among` a mask at once."""
        if slot not in self._own:
            self._own[slot] = self._without_job(slot, domain)
        levels = {level: here for level, members in self._own[slot].items() if (here := members & among)}
        room = self.headroom.get(domain.kind)
        if room is None:
            return levels
        headroom = (
            ((self.scaled("temperature headroom", room.of(high, low, service)[1]), 0), members)
            for (high, low), members in domain.groups((_pair(room.high), _pair(room.low))).items()
        )
        return _summed(levels, merged([((0, 0), EMPTY), *headroom]))

    def _without_job(self, slot: str, domain: Domain) -> dict[tuple[int, int], int]:
        """Group the options of a slot by what no job changes: time, steps, hazards and basis."""
        spent: dict[float, int] = {float(self.table["steps"]["minutes"][slot]): domain.filled}
        spent = merged(
            (minutes + (value or 0.0), members & mask)
            for minutes, members in spent.items()
            for value, mask in domain.values(domain.kind, HANDS).items()
        )
        step = self.scaled("steps", self.table["steps"]["points"])
        levels = merged(
            ((step + self.of_minutes(minutes), milliseconds(minutes)), members) for minutes, members in spent.items()
        )
        hazards = domain.values(domain.kind, "hazards").items()
        levels = _summed(levels, merged(((self.of_hazards(value or ()), 0), mask) for value, mask in hazards))
        basis = domain.values(domain.kind, "basis").items()
        levels = _summed(levels, merged(((self.of_basis(value), 0), mask) for value, mask in basis))
        return merged([((0, 0), EMPTY), *levels.items()])


def _pair(path: str) -> tuple[str, str]:
    """Split a fact path into role and field."""
    role, _, field = path.partition(".")
    return role, field


def _summed(one: Levels, other: Levels) -> dict[tuple[int, int], int]:
    """Add two groupings: the options that both hold, at the sum of what each says."""
    return merged(
        ((cost + more, ms + longer), members & mask)
        for (cost, ms), members in one.items()
        for (more, longer), mask in other.items()
    )


def milliseconds(minutes: float) -> int:
    """Count minutes as the search does.

    >>> milliseconds(0.05)
    3000
    """
    return round(minutes * MS_PER_MINUTE)
