"""What there is beside the first chain, in words: what each alternative gains and what it costs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from kb.engine.chain import Chain
from kb.engine.plan import Plan
from kb.planning.alternatives import LONGEST_DAYS, Alternative
from kb.quantities.layout import hours_of
from kb.report.text import duration
from kb.report.trouble import days
from kb.rules.findings import distinct
from kb.rules.words import message, shown

#: What an alternative is, before its items.
HEADS = {
    "adhesive-family": "another adhesive",
    "coating-family": "another coat",
    "fastest": "the fastest",
    "fewest-hazards": "the fewest hazards",
    "longest-service": "the longest service",
}
#: Times that differ by less than this share, or by less than so many minutes, are told as the same.
_SAME_SHARE, _SAME_MIN = 0.1, 15.0


def bond_words(chain: Chain) -> str:
    """Name a chain by what makes it: its adhesive, or the gauge that is welded on, and its coats."""
    entry = chain.pick("adhesive").entry or chain.pick("backing").entry
    coats = " and ".join(coat.name for coat in chain.coatings)
    name = entry.name if entry else "nothing"
    return f"{name} under {coats}" if coats else f"{name}, bare"


def says(plan: Plan, other: Alternative) -> str:
    """Say what an alternative is like beside the first chain."""
    told = [*_service(other), *_time(plan, other), *_heat(plan.chains[0], other.chain)]
    told += [*_hazards(plan.chains[0], other.chain), *_cautions(plan.chains[0], other.chain)]
    return "; ".join(told) or "as good but for its points"


def _service(other: Alternative) -> Iterator[str]:
    if other.days is not None:
        yield f"holds for {days(other.days)}{' or more' if other.days >= LONGEST_DAYS else ''}"


def _time(plan: Plan, other: Alternative) -> Iterator[str]:
    one = hours_of(plan, plan.chains[0]).ready_after_min
    two = hours_of(other.plan, other.chain).ready_after_min
    gap = abs(one - two)
    if gap > max(_SAME_MIN, _SAME_SHARE * max(one, two)):
        yield f"{duration(gap)} {'later' if two > one else 'sooner'}"


def _heat(first: Chain, other: Chain) -> Iterator[str]:
    one, two = (_hottest(chain) for chain in (first, other))
    if one != two and one is not None and two is not None:
        yield f"cured at {shown(two)} degC and not at {shown(one)}"


def _hottest(chain: Chain) -> float | None:
    """The highest temperature of the cure and its post-cure."""
    heats = [chain.cure.get(name) for name in ("temperature_c", "post_cure_c")]
    return max((float(heat) for heat in heats if heat is not None), default=None)


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
        yield f"{more} caution{'s' * (more > 1)} {'more' if two > one else 'less'}"


def equals(plan: Plan) -> list[str]:
    """Name what would do as well: for each further chain of the same cost, the items in which it differs."""
    first = plan.chains[0]
    told = []
    for chain in plan.chains[1:]:
        if chain.cost == first.cost:
            pairs = zip(first.picks, chain.picks, strict=True)
            names = [b.entry.name if b.entry else "nothing" for a, b in pairs if a.id != b.id]
            told.append(" and ".join(names) or f"the cure {chain.cure.get('id', '')}")
    return told


def alternative_json(plan: Plan, other: Alternative, chain: dict[str, Any]) -> dict[str, Any]:
    """Give an alternative as the answers hold it; `chain` is its own document."""
    return {"by": other.by, "says": says(plan, other), "service_days": other.days, "chain": chain}


def why_first(plan: Plan, others: Sequence[Alternative]) -> str:
    """Say in words why the first chain is before the next one that differs in what matters."""
    rivals = [other for other in others if other.plan is plan]
    if plan.supplied == 1:
        return "It is the best that the shelf can supply."
    if not rivals:
        return "Nothing that differs from it in adhesive or coat is left by the rules." if plan.top > 1 else ""
    rival = min(rivals, key=lambda other: other.chain.cost)
    first = plan.chains[0]
    reasons = [*_against(plan, rival.chain, first), *_in_favour(plan, first, rival.chain)]
    gap = hours_of(plan, rival.chain).ready_after_min - hours_of(plan, first).ready_after_min
    if gap > max(_SAME_MIN, _SAME_SHARE * first.critical_path_min):
        worth = plan.screened.ranking.of_minutes(gap, plan.screened.scene["service"] or {}).points
        reasons.append((worth, f"it is ready {duration(gap)} sooner"))
    reasons.sort(key=lambda reason: -reason[0])
    told = "; ".join(words for _, words in reasons[:2]) or "it is a little better in several small things"
    return f"Before {bond_words(rival.chain)}: {told}."


def _against(plan: Plan, rival: Chain, first: Chain) -> Iterator[tuple[int, str]]:
    """What is to be cautioned of the rival alone, with its points."""
    known = {finding.rule.id for finding in first.findings}
    for finding in distinct(rival.findings):
        if finding.verdict == "caution" and finding.rule.id not in known:
            yield (
                plan.screened.ranking.of_rule(finding.rule, finding.known).points,
                f"there, {_lowered(message(finding))}",
            )


def _in_favour(plan: Plan, first: Chain, rival: Chain) -> Iterator[tuple[int, str]]:
    """What speaks for the first chain alone, with its points."""
    known = {finding.rule.id for finding in rival.findings}
    for finding in distinct(first.findings):
        if finding.rule.verdict == "prefer" and not finding.rule.omits and finding.rule.id not in known:
            yield -plan.screened.ranking.of_rule(finding.rule, finding.known).points, _lowered(message(finding))


def _lowered(sentence: str) -> str:
    """A sentence as part of another."""
    return sentence[:1].lower() + sentence[1:].rstrip(".")
