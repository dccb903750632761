"""Why an item is in, out, or behind: what the rules say of it, what it lost by, and what would let it in."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

from kb.base.errors import BadInput
from kb.engine.chain import Chain
from kb.engine.conflict import MOST_PLANS, Trouble, trouble_of
from kb.engine.goal import Goal, stands_in_chains
from kb.engine.plan import Engine, Plan
from kb.job import Job
from kb.knowledge import Entry
from kb.rules.findings import Finding, distinct


class Gap(NamedTuple):
    """One criterion of two chains: the value of each in `unit`, and the points that it adds to each."""

    criterion: str
    unit: str
    values: tuple[float, float]
    points: tuple[int, int]


@dataclass(frozen=True)
class Why:
    """The answer. `standing`: "in" the first chain, "behind" it, or "out".

    `first` is the job's first chain. `other` is what it is held against: for an item that is behind the best chain
    with it, for one that is in the best without it. Where the search for that was stopped, any chain that it missed
    costs `bound` or more. `way_in` says what would let in one that is out.
    """

    job: Job
    substrate: Entry
    item: Entry
    standing: str
    findings: tuple[Finding, ...]
    first: Chain | None = None
    other: Chain | None = None
    bound: int | None = None
    way_in: Trouble | None = None

    @property
    def gaps(self) -> tuple[Gap, ...]:
        """The first chain against the other, by criterion; those in which they differ."""
        return gaps(self.first, self.other) if self.first and self.other else ()


def explain(engine: Engine, plan: Plan, item: Entry, most_plans: int = MOST_PLANS) -> Why:
    """Tell why `item` stands where it does in `plan`; BadInput where it is nothing that a chain is made of."""
    if not stands_in_chains(item):
        raise BadInput(item.id, f"is a {item.kind}: no part of a chain", "name an adhesive, a coating, a degreaser, …")
    goal = Goal(engine, plan.substrate, item)
    first = plan.chains[0] if plan.chains else None
    answer = Why(plan.job, plan.substrate, item, "in", (), first)
    if first is not None and uses(first, item):
        other, bound = goal.best_without(plan.job)
        return replace(answer, findings=about(item, first), other=other, bound=bound)
    best, bound = goal.best(plan.job)
    if best is not None or (bound is not None and goal.possible(plan.job)):
        return replace(answer, standing="behind", findings=about(item, best) if best else (), other=best, bound=bound)
    refusal = next((findings for entry, findings in plan.excluded if entry.id == item.id), [])
    way_in = trouble_of(goal, plan.job, most_plans)
    return replace(answer, standing="out", findings=tuple(refusal), way_in=way_in)


def uses(chain: Chain, item: Entry) -> bool:
    """Tell whether `item` stands in any slot of `chain`."""
    return any(option.id == item.id for option in chain.picks)


def about(item: Entry, chain: Chain) -> tuple[Finding, ...]:
    """Collect what is said of `item` in `chain`, each statement once."""
    return tuple(f for f in distinct(chain.findings) if item.id in f.about)


def gaps(one: Chain, other: Chain) -> tuple[Gap, ...]:
    """List the criteria in which two chains differ in points or in value, in the order of the ranking."""
    compared = (
        Gap(a.criterion, a.unit, (a.value, b.value), (a.points, b.points))
        for a, b in zip(one.score, other.score, strict=True)
    )
    return tuple(gap for gap in compared if gap.values[0] != gap.values[1] or gap.points[0] != gap.points[1])
