"""What concerns one slot alone, settled there: node consistency, before the search joins the slots."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from kb.engine.grounding import Sets
from kb.rules.rule import Rule


class RuleConstraint(NamedTuple):
    """A rule that forbids, or costs, a combination. No rule: the order of coats, which is structure."""

    rule: Rule | None
    sets: Sets
    cost: int = 0
    minutes: float = 0.0
    forbids: bool = False


class SlotCost(NamedTuple):
    """What a rule adds to some options of one slot, whatever else the chain holds."""

    mask: int
    points: int
    minutes: float


class Propagation:
    """Settles what, among what remains, concerns one slot only; repeated until nothing changes (node consistency)."""

    def __init__(self, remaining: list[int]) -> None:
        self.remaining = remaining
        self.closed_by: list[list[tuple[Rule, int]]] = [[] for _ in remaining]
        self.slot_costs: list[list[SlotCost]] = [[] for _ in remaining]
        self.constant = (0, 0.0)

    def run(self, constraints: Sequence[RuleConstraint]) -> list[RuleConstraint]:
        """Settle all that can be, and return the rest: what joins slots."""
        pending = [(constraint, constraint.sets) for constraint in constraints]
        changed = True
        while changed:
            changed = False
            kept: list[tuple[RuleConstraint, Sets]] = []
            for constraint, _ in pending:
                sets = self._narrowed(constraint.sets)
                if sets is None:
                    continue
                if len(sets) > 1:
                    kept.append((constraint, sets))
                else:
                    changed = True
                    self._settle(constraint, sets)
            pending = kept
        return [constraint._replace(sets=sets) for constraint, sets in pending]

    def leaves_nothing(self, wanted: Sets) -> bool:
        """Tell whether some slot holds nothing any more, or no slot any of the options `wanted`, if there are such."""
        if not all(self.remaining):
            return True
        return bool(wanted) and not any(self.remaining[slot] & options for slot, options in wanted.items())

    def _narrowed(self, sets: Sets) -> Sets | None:
        """Keep the slots in which `sets` still tell options apart; None where a slot has none of its set left."""
        narrowed: Sets = {}
        for slot, mask in sets.items():
            here = mask & self.remaining[slot]
            if not here:
                return None
            if here != self.remaining[slot]:
                narrowed[slot] = here
        return narrowed

    def _settle(self, constraint: RuleConstraint, sets: Sets) -> None:
        """Settle a rule that concerns one slot, or none: then it holds for every chain."""
        if not constraint.forbids:
            for slot, mask in sets.items():
                self.slot_costs[slot].append(SlotCost(mask, constraint.cost, constraint.minutes))
            if not sets:
                points, minutes = self.constant
                self.constant = points + constraint.cost, minutes + constraint.minutes
            return
        everywhere = [(slot, self.remaining[slot]) for slot in constraint.sets or range(len(self.remaining))]
        for slot, mask in sets.items() or everywhere:
            if constraint.rule is not None:
                self.closed_by[slot].append((constraint.rule, mask))
            self.remaining[slot] &= ~mask
