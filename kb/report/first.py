"""What put the first chain before the others, how firmly, what would do as well, and whether anything was missed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from kb.base.units import degrees
from kb.engine.chain import Chain
from kb.engine.plan import Plan
from kb.knowledge import Entry
from kb.planning.alternatives import Alternative
from kb.planning.firmness import firmness, rivals
from kb.quantities.layout import hours_of
from kb.report.hanging import bond_json
from kb.rules.findings import distinct
from kb.rules.words import duration, message

#: Times that differ by less than this share, or by less than so many minutes, are told as the same.
SAME_SHARE, SAME_MIN = 0.1, 15.0
#: One that need count less otherwise than this makes the two as good as even.
EVEN_SHARE = 0.02
#: A judgement that must count so much more or less before another chain is first makes the answer no closer.
FIRM_SHARE = 0.5


def why_first(plan: Plan, others: Sequence[Alternative]) -> str:
    """Say in words why the first chain is before the next one that differs in what matters."""
    if plan.supplied == 1:
        return "It is the best that the shelf can supply."
    if not (against := rivals(plan, others)):
        return "Nothing with another kind of adhesive or coat comes near it." if plan.top > 1 else ""
    first = plan.chains[0]
    rival = min(against, key=lambda chain: (bond_words(chain) == bond_words(first), chain.cost))
    if rival.cost == first.cost:
        return ""
    reasons = [*speaks_against(plan, rival, first), *speaks_for(plan, first, rival)]
    gap = hours_of(plan, rival).ready_after_min - hours_of(plan, first).ready_after_min
    if gap > max(SAME_MIN, SAME_SHARE * first.critical_path_min):
        worth = plan.screened.ranking.of_minutes(gap, plan.screened.scene["service"] or {}).points
        reasons.append((worth, f"it is ready {duration(gap)} sooner"))
    reasons.sort(key=lambda reason: -reason[0])
    told = "; ".join(words for _, words in reasons[:2]) or "it is a little better in several small things"
    return f"Chosen over {bond_words(rival, first)}: {told}."


def why_words(plan: Plan, others: Sequence[Alternative]) -> str:
    """Say why the first chain is first, how firmly, and how sure that is, as far as there is something to say."""
    return " ".join(filter(None, (why_first(plan, others), how_firmly(plan, others), how_sure(plan))))


def how_firmly(plan: Plan, others: Sequence[Alternative]) -> str:
    """Say which judgement, counted a little otherwise, would put another chain first; "" where that is no question."""
    found = firmness(plan, others)
    if found is None or not found.share:
        return ""
    if abs(found.share) > FIRM_SHARE:
        return "Firm: no one judgement would turn it by counting half as much again, or half as much."
    means = plan.knowledge.tables["ranking"]["means"][found.level]
    more = "more" if found.share > 0 else "less"
    rival = bond_words(found.rival, plan.chains[0])
    if abs(found.share) < EVEN_SHARE:
        return f"As good as even: where '{means}' counts a little {more}, {rival} is first."
    return f"It turns where '{means}' counts {abs(found.share):.0%} {more}: then {rival} is first."


def firmness_json(plan: Plan, others: Sequence[Alternative]) -> dict[str, Any] | None:
    """Give the least change of one level that puts another chain first, by its share; None where there is none."""
    found = firmness(plan, others)
    if found is None:
        return None
    return {"level": found.level, "share": round(found.share, 4), "to": bond_json(found.rival.picks)}


def equals(plan: Plan, others: Sequence[Alternative] = ()) -> list[str]:
    """Name what would do as well: for each further chain of the same cost, the items in which it differs."""
    if not plan.chains:
        return []
    first = plan.chains[0]
    alike = {chain.key: chain for chain in (*plan.chains[1:], *rivals(plan, others)) if chain.cost == first.cost}
    return [unlike(first, chain) for chain in alike.values()]


def unlike(first: Chain, other: Chain) -> str:
    """Name the items of a chain that the first one has not."""
    pairs = ((a.entry, b.entry) for a, b in zip(first.picks, other.picks, strict=True) if a.id != b.id)
    names = [there.name if there else f"no {here.name}" if here else "" for here, there in pairs]
    return " and ".join(dict.fromkeys(names)) or f"a cure at {degrees(other.cure['temperature_c'])} degC"


def bond_words(chain: Chain, beside: Chain | None = None) -> str:
    """Name a chain by what makes it: its adhesive, or the gauge that is welded on, and its coats.

    What it shares with one `beside` it, which was named already, is called the same.
    """
    glue, entry = chain.pick("adhesive").entry, bond_of(chain)
    name = entry.name if entry else "nothing"
    coats = " and ".join(coat.name for coat in chain.coatings)
    if beside is not None:
        same_bond, same_coats = entry == bond_of(beside), chain.coatings == beside.coatings
        if same_bond and same_coats:
            return f"the same bond with {unlike(beside, chain)}"
        name = f"the same {'adhesive' if glue else 'gauge'}" if same_bond else name
        coats = f"the same {'coat' if len(chain.coatings) == 1 else 'coats'}" if same_coats and coats else coats
    return f"{name} under {coats}" if coats else f"{name}, bare"


def bond_of(chain: Chain) -> Entry | None:
    """Give the adhesive, or the gauge that is welded on."""
    return chain.pick("adhesive").entry or chain.pick("backing").entry


def how_sure(plan: Plan) -> str:
    """Tell what the search leaves open where it had to stop; "" where the chains are proven to be the best."""
    if plan.bound is None:
        return ""
    stopped = "The search was too wide and was stopped at its limit. Any chain that it missed"
    if not plan.chains:
        return f"{stopped} costs {points(plan.bound)} or more; it met none."
    sure = {0: "None of those shown", 1: "The first"}.get(plan.proven, f"The first {plan.proven}")
    proven = f"{sure} {'is' if plan.proven < 2 else 'are'} proven to be the best."
    return f"{stopped} costs {points(plan.bound)} or more; the best that it found costs {plan.chains[0].cost}. {proven}"


def points(count: int) -> str:
    """Give a number of points.

    >>> points(1), points(-3)
    ('1 point', '-3 points')
    """
    return f"{count} point{'s' * (abs(count) != 1)}"


def speaks_against(plan: Plan, rival: Chain, first: Chain) -> Iterator[tuple[int, str]]:
    """Tell what is to be cautioned of the rival alone, with its points."""
    known = {finding.rule.id for finding in first.findings}
    for finding in distinct(rival.findings):
        if finding.verdict == "caution" and finding.rule.id not in known:
            yield (
                plan.screened.ranking.of_rule(finding.rule, finding.known).points,
                f"there, {_lowered(message(finding))}",
            )


def speaks_for(plan: Plan, first: Chain, rival: Chain) -> Iterator[tuple[int, str]]:
    """Tell what speaks for the first chain alone, with its points."""
    known = {finding.rule.id for finding in rival.findings}
    for finding in distinct(first.findings):
        if finding.rule.verdict == "prefer" and not finding.rule.omits and finding.rule.id not in known:
            yield -plan.screened.ranking.of_rule(finding.rule, finding.known).points, _lowered(message(finding))


def _lowered(sentence: str) -> str:
    """Give a sentence as part of another.

    >>> _lowered("It is not known."), _lowered("PTFE tape is only stuck down.")
    ('it is not known', 'PTFE tape is only stuck down')
    """
    first = sentence[:1] if sentence[1:2].isupper() else sentence[:1].lower()
    return first + sentence[1:].rstrip(".")
