"""How firmly the first chain is first: which judgement, counted otherwise, would put another chain before it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from kb.engine.chain import Chain, times_of
from kb.engine.plan import Plan
from kb.planning.alternatives import Alternative


class Firmness(NamedTuple):
    """The level of which the least change puts `rival` first: `share` of its points more, or less where below 0."""

    level: str
    share: float
    rival: Chain


def firmness(plan: Plan, others: Iterable[Alternative]) -> Firmness | None:
    """Find the least change of one level after which a rival costs no more than the first chain.

    None where no rival would do so by one level alone, and where the shelf put the first chain first.
    """
    if not plan.chains or plan.supplied:
        return None
    first = times_of(plan.screened, plan.chains[0])
    found = (turn for rival in rivals(plan, others) for turn in _turns(plan, first, rival))
    return min(found, key=lambda turn: (abs(turn.share), turn.level, turn.rival.rank), default=None)


def rivals(plan: Plan, others: Iterable[Alternative]) -> list[Chain]:
    """List the chains for the same job, and by the same costs, that differ from the first in adhesive or coat family.

    The cheapest of either kind are among the alternatives.
    """
    return [other.chain for other in others if other.plan is plan]


def _turns(plan: Plan, first: Mapping[str, float], rival: Chain) -> Iterator[Firmness]:
    """Give each level with the share by which it would have to count otherwise; none can count below nothing.

    `first` holds how often each level is in the first chain's cost.
    """
    levels, gap = plan.screened.ranking.levels_of, plan.chains[0].cost - rival.cost
    other = times_of(plan.screened, rival)
    for level in first.keys() | other.keys():
        dearer = (other.get(level, 0.0) - first.get(level, 0.0)) * levels[level]
        if dearer and (share := gap / dearer) >= -1:
            yield Firmness(level, share, rival)
