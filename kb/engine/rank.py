"""What an option costs by itself, criterion by criterion, in the points of generic_catalog/ranking.toml."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from kb.clauses import Missing, look_up
from kb.engine.domain import Option
from kb.engine.slots import KIND_OF_SLOT
from kb.rules import Rule

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


@dataclass(frozen=True)
class Ranking:
    """The table of points, with the user's preference applied: `scale` multiplies a criterion's points."""

    table: Mapping[str, Any]
    scale: Mapping[str, int]

    @classmethod
    def of(cls, table: Mapping[str, Any], prefer: str | None = None) -> Ranking:
        return cls(table, table["prefer"][prefer] if prefer else {})

    def scaled(self, criterion: str, points: float) -> int:
        """Whole points; half up, so that it doesn't depend on whether a number is even."""
        return int(points * self.scale.get(criterion, 1) + 0.5)

    def of_rule(self, rule: Rule, known: bool) -> tuple[str, int]:
        """The criterion and points of a rule that holds (or, not `known`, may hold); a preference is below zero."""
        weights = self.table["verdicts"]
        if rule.verdict == "prefer":
            weight = 0 if rule.omits and rule.weight is None else rule.weight
            return "preferences", -self.scaled("preferences", weights["prefer"] if weight is None else weight)
        if not known:
            weight = weights["unknown"] if rule.weight is None else min(rule.weight, weights["unknown"])
            return "unknowns", self.scaled("unknowns", weight)
        criterion, verdict = ("needs", "need") if rule.verdict == "need" else ("cautions", "caution")
        return criterion, self.scaled(criterion, weights[verdict] if rule.weight is None else rule.weight)

    def of_minutes(self, minutes: float) -> int:
        return self.scaled("time to ready", minutes / 60 * self.table["time"]["points_per_hour"])

    def of_option(self, slot: str, option: Option, service: Mapping[str, Any]) -> dict[str, tuple[float, str, int]]:
        """By criterion: the value, its unit, and the points. Empty for an empty slot."""
        if option.entry is None:
            return {}
        facts = option.entry.facts
        minutes = self.minutes(slot, option)
        hazards = [
            self.table["hazards"]["of"].get(h, self.table["hazards"]["points"]) for h in facts.get("hazards", ())
        ]
        margin, short = self._headroom(slot, option, service)
        basis = self.table["basis_points"][facts["basis"]]
        return {
            "time to ready": (minutes, "min", self.of_minutes(minutes)),
            "temperature headroom": (margin, "degC", self.scaled("temperature headroom", short)),
            "steps": (1.0, "steps", self.scaled("steps", self.table["steps"]["points"])),
            "hazards": (float(len(hazards)), "hazards", self.scaled("hazards", sum(hazards))),
            "basis of the knowledge": (float(basis), "points", self.scaled("basis of the knowledge", basis)),
        }

    def minutes(self, slot: str, option: Option) -> float:
        """Minutes that the option takes: its stage's own and what drying, curing or coating adds."""
        if option.entry is None:
            return 0.0
        facts = option.entry.facts
        spent = float(self.table["steps"]["minutes"][slot])
        for name in ("minutes", "dry_min", "min_wait_min", "full_cure_min"):
            spent += facts.get(name, 0.0)
        if option.cure is not None:
            spent += sum(option.cure.get(name, 0.0) for name in ("duration_min", "then_min", "post_cure_min"))
        return spent

    def _headroom(self, slot: str, option: Option, service: Mapping[str, Any]) -> tuple[float, float]:
        """Degrees between the job and the nearer limit of the item, and the points for what is short of enough."""
        for row in self.table["headroom"]:
            if row["slot"] != KIND_OF_SLOT[slot]:
                continue
            scene = {KIND_OF_SLOT[slot]: option.facts(KIND_OF_SLOT[slot]), "cure": option.cure}
            high, low = look_up(row["high"], scene), look_up(row["low"], scene)
            if isinstance(high, Missing) or isinstance(low, Missing):
                return 0.0, row["want_c"] * row["points_per_c"]
            margin = min(high - service["high_c"], service["low_c"] - low)
            return margin, max(0.0, row["want_c"] - margin) * row["points_per_c"]
        return float("inf"), 0.0
