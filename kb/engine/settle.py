"""What concerns one slot alone, settled there: node consistency, before the search joins the slots."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
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
        while True:
            before = [*self.remaining]
            kept: list[tuple[RuleConstraint, Sets]] = []
            for constraint, _ in pending:
                sets = self._narrowed(constraint.sets)
                if sets is None:
                    continue
                if len(sets) > 1:
                    kept.append((constraint, sets))
                else:
                    self._settle(constraint, sets)
            pending = kept
            if self.remaining == before:
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


class Settled(NamedTuple):
    """What constraints that forbid nothing come to: for options of one slot, between slots, and for every chain."""

    slot_costs: tuple[tuple[SlotCost, ...], ...]
    joining: tuple[RuleConstraint, ...]
    #: Points and minutes.
    constant: tuple[int, float]


@dataclass(frozen=True)
class Costs:
    """What a job's rules cost where `remaining` is left, worked out when asked for: that a chain exists hangs on none.

    `constraints` forbid nothing, and their minutes have no points yet: these `priced` adds.
    """

    remaining: tuple[int, ...]
    constraints: tuple[RuleConstraint, ...]
    priced: Callable[[RuleConstraint], RuleConstraint]

    @cached_property
    def settled(self) -> Settled:
        """Points and minutes."""
        return self._settled(map(self.priced, self.constraints))

    @cached_property
    def times(self) -> Settled:
        """Minutes alone."""
        return self._settled(each._replace(cost=0) for each in self.constraints if each.minutes)

    def _settled(self, constraints: Iterable[RuleConstraint]) -> Settled:
        settling = Propagation([*self.remaining])
        joining = settling.run([*constraints])
        return Settled(tuple(map(tuple, settling.slot_costs)), tuple(joining), settling.constant)
