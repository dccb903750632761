"""The search of one job, made once, for what its first chain is when a few facts are others.

What rules say otherwise then is added to the problem as it was. A chain that could become the first costs little more
than the first one does, by the bounds of the search that was made; so few options are left to be searched.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from kb.engine.rank import milliseconds
from kb.engine.screened import Screened, for_search, with_costs
from kb.engine.search.k_best import Search, k_best
from kb.engine.search.masks import union
from kb.engine.search.problem import Levels, SearchProblem
from kb.engine.settle import Propagation, RuleConstraint

#: What a rule comes to in the job as it is, and with the facts changed.
Pairs = Iterable[tuple[Sequence[RuleConstraint], Sequence[RuleConstraint]]]
#: What stands in each slot of a chain, by its position.
Positions = tuple[int, ...]


class CannotTellError(Exception):
    """The search that was made doesn't tell: the job must be searched anew."""


class _Left(NamedTuple):
    """What is left to be searched: options by their costs, and what joins them."""

    options: Sequence[Levels]
    constraints: Sequence[RuleConstraint]

    @property
    def remaining(self) -> list[int]:
        return [union(levels.values()) for levels in self.options]


class Varied:
    """A job that has a chain, and the bounds of its search."""

    def __init__(self, screened: Screened, most_transitions: int) -> None:
        self._screened, self._most = screened, most_transitions
        self._problem = screened.problem
        (self._first,) = k_best(self._problem, 1, most_transitions).labels
        self._tree = Search(self._problem, 1, most_transitions).tree
        self._near: dict[int, _Left] = {}

    def first(self, changes: Sequence[RuleConstraint]) -> Positions | None:
        """Find the first chain where these constraints are added; None where there is none then.

        Raises CannotTellError where a limit of time is kept, and every chain takes another time.
        """
        settled = Propagation(list(self._screened.remaining))
        joining = settled.run(changes)
        if self._screened.timed and settled.constant[1]:
            raise CannotTellError
        more = self._more(settled, joining)
        left = _Left(self._problem.options, self._screened.constraints)
        if more is not None:
            less = sum(max(0, -cost) for costs in settled.slot_costs for _, cost, _ in costs)
            less += sum(max(0, -constraint.cost) for constraint in joining)
            left = self._within(max(0, more) + less)
        labels = k_best(self._added(left, changes), 1, self._most).labels
        return labels[0].picks if labels else None

    def _more(self, settled: Propagation, joining: Sequence[RuleConstraint]) -> int | None:
        """Tell how much more the first chain costs; None where it is forbidden, or too late."""
        marked = {slot: 1 << position for slot, position in enumerate(self._first.picks)}
        if any(not settled.remaining[slot] & bit for slot, bit in marked.items()):
            return None
        met = [c for c in joining if all(marked[slot] & mask for slot, mask in c.sets.items())]
        own = [cost for slot, costs in enumerate(settled.slot_costs) for cost in costs if cost.mask & marked[slot]]
        limit = self._problem.limit_ms
        minutes = [*(constraint.minutes for constraint in met), *(cost.minutes for cost in own)]
        ms = self._first.ms + sum(map(milliseconds, minutes))
        if any(constraint.forbids for constraint in met) or (limit is not None and ms > limit):
            return None
        return sum(constraint.cost for constraint in met) + sum(cost.points for cost in own)

    def _within(self, more: int) -> _Left:
        """Keep the options of chains that cost so much more than the first one, or a little more than that."""
        step = 1 << more.bit_length()
        if step not in self._near:
            marginals, _ = self._tree.within(self._first.cost + step)
            masks = [union(members for _, members in here) for here in marginals]
            settled = Propagation(masks)
            joining = settled.run(self._screened.constraints)
            options = self._problem.only(settled.remaining).options
            pairs = zip(options, settled.slot_costs, strict=True)
            self._near[step] = _Left([with_costs(levels, costs) for levels, costs in pairs], joining)
        return self._near[step]

    def _added(self, left: _Left, changes: Sequence[RuleConstraint]) -> SearchProblem:
        settled = Propagation(left.remaining)
        joining = settled.run(changes)
        bare = SearchProblem(tuple(left.options), (), self._problem.limit_ms).only(settled.remaining)
        options = tuple(with_costs(*pair) for pair in zip(bare.options, settled.slot_costs, strict=True))
        return bare._replace(options=options, constraints=for_search((*left.constraints, *joining)))


def differences(pairs: Pairs) -> Iterator[RuleConstraint]:
    """Give what has to be added to what rules said for what they say now.

    Raises CannotTellError where they let through what they forbade: what was left aside for it must be looked at again.
    """
    for old, new in pairs:
        gone, come = [each for each in old if each not in new], [each for each in new if each not in old]
        if len(gone) == len(come) and all(_moved_in(*pair) is not None for pair in zip(gone, come, strict=True)):
            for before, now in zip(gone, come, strict=True):
                yield from _moved(before, now)
            continue
        if any(each.forbids for each in gone):
            raise CannotTellError
        yield from (each._replace(cost=-each.cost, minutes=-each.minutes) for each in gone)
        yield from come


def _moved_in(before: RuleConstraint, now: RuleConstraint) -> int | None:
    """Tell the one slot in which two constraints that say the same are of other options; None: they differ more."""
    if before._replace(sets={}) != now._replace(sets={}) or before.sets.keys() != now.sets.keys():
        return None
    moved = [slot for slot, mask in before.sets.items() if mask != now.sets[slot]]
    return moved[0] if len(moved) == 1 else None


def _moved(before: RuleConstraint, now: RuleConstraint) -> Iterator[RuleConstraint]:
    """Give what is to be added where a constraint is of more options of one slot, or of fewer."""
    slot = _moved_in(before, now)
    assert slot is not None
    gone, come = before.sets[slot] & ~now.sets[slot], now.sets[slot] & ~before.sets[slot]
    if gone and before.forbids:
        raise CannotTellError
    if gone:
        yield before._replace(sets={**before.sets, slot: gone}, cost=-before.cost, minutes=-before.minutes)
    if come:
        yield now._replace(sets={**now.sets, slot: come})
