"""Beside the first chain those that differ from it in what matters: another glue or coat, sooner, safer, for longer."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from types import MappingProxyType
from typing import NamedTuple

from kb.engine.chain import Chain, cautions_of
from kb.engine.plan import Engine, Plan
from kb.engine.rank import Ranking
from kb.engine.search.reach import feasible
from kb.engine.slots import INDEX
from kb.job import Job

#: The fastest takes no more than such a share of the first one's time: the least in which there is one. Like the next,
#: a choice of how many answers are worth reading, and no fact of the trade.
_FASTER = (0.25, 0.5, 0.75)
#: Less time saved is worth no other chain [min].
_WORTH_MIN = 30.0
#: A chain that is worse than the first by this level is none that a bench would take: it might as well risk the bond.
_WORSE = "bond-at-risk"
#: From this level on a caution says that the test may come to nothing.
_GRAVE = "reading-at-risk"
#: What is done only where nothing else is left is no alternative to what is left.
_LAST = "last-resort"
#: What a job may let go so that its test is at less risk, by what that is called.
EASED: Mapping[str, tuple[str, str, str | None]] = MappingProxyType(
    {"if-clamped": ("part", "clamping", "any"), "if-given-time": ("limits", "ready_within_h", None)}
)
#: No service is planned for longer than this.
LONGEST_DAYS = 3650.0


class Alternative(NamedTuple):
    """The best chain that differs from the first `by` something; the plan that it comes from, and days where it holds.

    `by` is adhesive-family, coating-family, fastest, fewest-hazards, longest-service, or a key of EASED. One of
    another family is given although it is `far` behind the first: it isn't offered, and tells that none comes near.
    """

    by: str
    chain: Chain
    plan: Plan
    days: float | None = None
    far: bool = False


def alternatives(engine: Engine, plan: Plan) -> list[Alternative]:
    """List what else there is for the job, each chain once, far ones included; none where it has no chain."""
    if not plan.chains:
        return []
    first = plan.chains[0]
    known, found = {first.key}, []
    for find in (_eased, _other_adhesive, _other_coat, _fastest, _fewest_hazards, _longest_service):
        for alternative in find(engine, plan):
            if alternative.chain.key not in known:
                known.add(alternative.chain.key)
                found.append(alternative)
    return found


def offered(others: Iterable[Alternative]) -> list[Alternative]:
    """Leave out what is far behind the first chain."""
    return [other for other in others if not other.far]


def _far(plan: Plan, chain: Chain, by: Ranking | None = None) -> bool:
    """Tell whether a chain for the same job, priced `by` a ranking, is so much worse that no bench would take it."""
    first, ranking = plan.chains[0], plan.screened.ranking
    dearer = _plain(chain, by or ranking) - _plain(first, ranking)
    return dearer >= ranking.levels_of[_WORSE] or not _last_resorts(chain) <= _last_resorts(first)


def _plain(chain: Chain, ranking: Ranking) -> float:
    """Cost a chain as if nobody preferred anything: where few hazards are preferred these count ten times."""
    return sum(row.points / ranking.scale.get(row.criterion, 1) for row in chain.score)


def _grave(chain: Chain, ranking: Ranking) -> int:
    """Count the cautions of a chain by which its test may come to nothing."""
    return len(cautions_of(chain, ranking, _GRAVE))


def _eased(engine: Engine, plan: Plan) -> Iterator[Alternative]:
    """Give the best chain of the job without a clamp out of reach, or without its hurry, where the first risks more."""
    risks = _grave(plan.chains[0], plan.screened.ranking)
    for by, (table, field, easy) in EASED.items() if risks else ():
        asked = getattr(plan.job, table)
        if getattr(asked, field) != easy:
            job = plan.job.model_copy(update={table: asked.model_copy(update={field: easy})})
            other = engine.plan(job, plan.substrate, 1)
            if other.chains and _grave(other.chains[0], plan.screened.ranking) < risks:
                yield Alternative(by, other.chains[0], other)


def _other_adhesive(engine: Engine, plan: Plan) -> Iterator[Alternative]:
    yield from _of_another_family(engine, plan, "adhesive", "adhesive-family")


def _other_coat(engine: Engine, plan: Plan) -> Iterator[Alternative]:
    yield from _of_another_family(engine, plan, "coating_1", "coating-family")


def _of_another_family(engine: Engine, plan: Plan, slot: str, by: str) -> Iterator[Alternative]:
    """Give the best chain whose item in a slot is of another family; none where the first has nothing there."""
    first, place = plan.chains[0].pick(slot).entry, INDEX[slot]
    if first is not None:
        domain = engine.domains[place]
        others = domain.filled & ~domain.values(domain.kind, "family")[first.family]
        masks = [others if other == place else -1 for other in range(len(engine.domains))]
        chain = engine.best(plan.screened, plan.screened.problem.only(masks))
        if chain is not None:
            yield Alternative(by, chain, plan, far=_far(plan, chain))


def _fastest(engine: Engine, plan: Plan) -> Iterator[Alternative]:
    """Give the best chain within a quarter of the first one's time, else within more, that a bench would still make."""
    minutes = plan.chains[0].critical_path_min
    limits = (min(share * minutes, minutes - _WORTH_MIN) for share in _FASTER)
    sooner = engine.best_within(plan.screened, (limit for limit in limits if limit > 0))
    for chain in sooner:
        if not _far(plan, chain):
            yield Alternative("fastest", chain, plan)
            return


def _last_resorts(chain: Chain) -> set[str]:
    """Name the rules by which a chain is only for where nothing else is left."""
    return {finding.rule.id for finding in chain.findings if finding.known and finding.rule.level == _LAST}


def _fewest_hazards(engine: Engine, plan: Plan) -> Iterator[Alternative]:
    other = engine.plan(plan.job, plan.substrate, 1, "few-hazards")
    for safer in other.chains:
        if _hazards(safer) < _hazards(plan.chains[0]) and not _far(plan, safer, other.screened.ranking):
            yield Alternative("fewest-hazards", safer, other)


def _hazards(chain: Chain) -> float:
    return next(score.value for score in chain.score if score.criterion == "hazards")


def _longest_service(engine: Engine, plan: Plan) -> Iterator[Alternative]:
    """Give the best chain for the longest time at which the job has one that risks no more than the first."""
    job, asked = plan.job, plan.job.service.duration_days
    if asked >= LONGEST_DAYS:
        return
    most, last_resorts = _grave(plan.chains[0], plan.screened.ranking), _last_resorts(plan.chains[0])
    tried: dict[float, Plan] = {}

    def lasting(days: float) -> Job:
        return job.model_copy(update={"service": job.service.model_copy(update={"duration_days": days})})

    def possible(days: float) -> bool:
        return feasible(engine.screened(lasting(days), plan.substrate).unweighted_problem)

    def sound(days: float) -> bool:
        tried[days] = other = engine.plan(lasting(days), plan.substrate, 1)
        return any(
            _grave(chain, plan.screened.ranking) <= most and _last_resorts(chain) <= last_resorts
            for chain in other.chains
        )

    days = LONGEST_DAYS if sound(LONGEST_DAYS) else None
    if days is None:
        levels = plan.screened.ranking.levels_of
        grave = {level for level in levels if levels[level] >= levels[_GRAVE]}
        *limits, _ = engine.breakpoints(lasting, plan.substrate, asked, LONGEST_DAYS, grave)
        longest = _last(limits, possible)
        days = _last([limit for limit in limits if longest and limit <= longest], sound)
    if days is not None:
        yield Alternative("longest-service", tried[days].chains[0], tried[days], days)


def _last(values: list[float], holds: Callable[[float], bool]) -> float | None:
    """Find the last of rising values that holds, where none does after one that doesn't.

    >>> _last([1, 2, 3, 4], lambda value: value < 3)
    2
    """
    low, high = 0, len(values)
    while low < high:
        middle = (low + high) // 2
        if holds(values[middle]):
            low = middle + 1
        else:
            high = middle
    return values[low - 1] if low else None
