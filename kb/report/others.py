"""What there is beside the first chain, in words: what each alternative gains and what it costs."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from kb.base.units import degrees
from kb.engine.chain import Chain
from kb.engine.plan import Plan
from kb.planning.alternatives import LONGEST_DAYS, Alternative
from kb.quantities.layout import hours_of
from kb.report.first import SAME_MIN, SAME_SHARE, bond_words, speaks_against, speaks_for
from kb.report.text import counted, days
from kb.rules.findings import distinct
from kb.rules.words import duration

#: What an alternative is, before its items.
_HEADS = {
    "if-clamped": "safer, if a clamp, a strap or a magnet can reach it",
    "if-given-time": "safer, if there were more time",
    "adhesive-family": "another adhesive",
    "coating-family": "another coat",
    "fastest": "ready sooner",
    "fewest-hazards": "the fewest hazards",
    "longest-service": "the longest service",
}


def line(plan: Plan, other: Alternative) -> str:
    """Tell an alternative in a line: what it is, what it is like beside the first chain, and its bond."""
    if other.far:
        return f"{head(plan, other)}: {none_near(plan, other)}"
    bond, told = bond_words(other.chain, plan.chains[0]), "; ".join(_beside(plan, other))
    # What is short comes first: where lines are few the end is cut off.
    return f"{head(plan, other)}: {told}: {bond}" if told else f"{head(plan, other)}: {bond}: {says(plan, other)}"


def none_near(plan: Plan, other: Alternative) -> str:
    """Say that nothing of a kind comes near the first chain, and what speaks most against the best of it."""
    against = [*speaks_against(plan, other.chain, plan.chains[0])]
    most = max(against, key=lambda reason: reason[0])[1] if against else "it is worse in many small things"
    return f"none comes near; of the next best, {most}: {bond_words(other.chain)}"


def head(plan: Plan, other: Alternative) -> str:
    """Say what an alternative is; one that takes less time need not be sooner by the clock: nights lie between."""
    return "less to wait for" if other.by == "fastest" and _gap(plan, other) >= 0 else _HEADS[other.by]


def says(plan: Plan, other: Alternative) -> str:
    """Say what an alternative is like beside the first chain."""
    return "; ".join([*_beside(plan, other)] or _worse(plan, other))


def _beside(plan: Plan, other: Alternative) -> Iterator[str]:
    """Tell in what time, heat, hazards and number of cautions an alternative differs from the first chain."""
    first = plan.chains[0]
    yield from _service(other)
    yield from _time(plan, other)
    yield from _heat(first, other.chain)
    yield from _hazards(first, other.chain)
    yield from _cautions(first, other.chain)


def _worse(plan: Plan, other: Alternative) -> Iterator[str]:
    """Say what puts an alternative behind the first chain, where neither time nor heat, hazard or number tells."""
    first = plan.chains[0]
    against = max(speaks_against(plan, other.chain, first), default=None)
    in_favour = max(speaks_for(plan, first, other.chain), default=None)
    if against is not None:
        yield against[1]
    elif in_favour is not None:
        yield f"but for the first speaks: {in_favour[1]}"
    else:
        yield "a little worse in several small things"


def _service(other: Alternative) -> Iterator[str]:
    if other.days is not None:
        yield f"holds for {days(other.days)}{' or more' if other.days >= LONGEST_DAYS else ''}"


def _time(plan: Plan, other: Alternative) -> Iterator[str]:
    if gap := _gap(plan, other):
        in_time = ", and in time" if is_in_time(plan, other) else ""
        yield f"{duration(abs(gap))} {'later' if gap > 0 else 'sooner'}{in_time}"
    elif other.by == "fastest":
        less = plan.chains[0].critical_path_min - other.chain.critical_path_min
        yield f"{duration(less)} less of work and waiting, and ready no sooner: nights lie between"


def is_in_time(plan: Plan, other: Alternative) -> bool:
    """Tell whether an alternative keeps the job's limit in working hours, which the first chain does not."""
    if other.far or hours_of(plan, plan.chains[0]).within_limit is not False:
        return False
    return hours_of(other.plan, other.chain).within_limit is True


def _gap(plan: Plan, other: Alternative) -> float:
    """Tell how much later an alternative is ready by the clock [min]; 0 where nobody would tell the difference."""
    one = hours_of(plan, plan.chains[0]).ready_after_min
    two = hours_of(other.plan, other.chain).ready_after_min
    return two - one if abs(one - two) > max(SAME_MIN, SAME_SHARE * max(one, two)) else 0.0


def _heat(first: Chain, other: Chain) -> Iterator[str]:
    one, two = (chain.cure.get("hottest_c") for chain in (first, other))
    if one != two and one is not None and two is not None:
        yield f"cured at {degrees(two)} degC and not at {degrees(one)}"


def _hazards(first: Chain, other: Chain) -> Iterator[str]:
    one, two = (_hazard_words(chain) for chain in (first, other))
    gone, come = ([word for word in a if word not in b] for a, b in ((one, two), (two, one)))
    if gone:
        yield f"nothing {_listed(gone)}"
    if come:
        yield f"{_listed(come)} as well"


def _hazard_words(chain: Chain) -> list[str]:
    entries = (option.entry for option in chain.picks if option.entry is not None)
    return list(dict.fromkeys(hazard for entry in entries for hazard in entry.facts.get("hazards", ())))


def _listed(hazards: list[str]) -> str:
    return ", ".join(hazard.replace("-", " ") for hazard in hazards[:3])


def _cautions(first: Chain, other: Chain) -> Iterator[str]:
    one, two = (sum(f.verdict == "caution" for f in distinct(chain.findings)) for chain in (first, other))
    if one != two:
        more = abs(one - two)
        yield f"{counted(more, 'caution')} {'more' if two > one else 'less'}"


def alternative_json(plan: Plan, other: Alternative, chain: dict[str, Any]) -> dict[str, Any]:
    """Give an alternative as the answers hold it; `chain` is its own document."""
    return {"by": other.by, "says": says(plan, other), "service_days": other.days, "chain": chain}
