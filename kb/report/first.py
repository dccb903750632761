"""What put the first chain before the second, and how sure it is that nothing better was missed: a sentence each."""

from __future__ import annotations

from kb.engine.chain import Chain, Score
from kb.engine.plan import Plan
from kb.report.text import duration
from kb.rules.words import shown

#: More criteria than this make no sentence; they come in the order of their points.
MOST_TOLD = 2


def why_first(plan: Plan) -> str:
    """One sentence: what put the first chain before the second."""
    if len(plan.chains) < 2:
        return _alone(plan)
    first, second = plan.chains[:2]
    dearer = second.cost - first.cost
    if plan.supplied == 1 and dearer <= 0:
        less = f"costs {points(-dearer)} less" if dearer else "costs as much"
        return f"The shelf can supply it, and not the next, which {less}."
    if not dearer:
        return f"It costs as much as the next; between equals the earlier in the catalog: {_earlier(first, second)}."
    gains = [(b.points - a.points, a, b) for a, b in zip(first.score, second.score, strict=True)]
    ahead = sorted((g for g in gains if g[0] > 0), key=lambda g: -g[0])
    behind = sorted((g for g in gains if g[0] < 0), key=lambda g: g[0])
    told = " and ".join(_told(plan, *gain) for gain in ahead[:MOST_TOLD])
    mostly = "mostly through" if len(ahead) > MOST_TOLD else "through"
    lost = f", though it is behind in {behind[0][1].criterion} ({points(-behind[0][0])})" if behind else ""
    return f"It is ahead of the next by {points(dearer)}, {mostly} {told}{lost}{' and others' * (len(behind) > 1)}."


def how_sure(plan: Plan) -> str:
    """What the search leaves open where it had to stop; "" where the chains are proven to be the best."""
    if plan.bound is None:
        return ""
    stopped = "The search was too wide and was stopped at its limit. Any chain that it missed"
    if not plan.chains:
        return f"{stopped} costs {points(plan.bound)} or more; it met none."
    sure = {0: "None of those shown", 1: "The first"}.get(plan.proven, f"The first {plan.proven}")
    proven = f"{sure} {'is' if plan.proven < 2 else 'are'} proven to be the best."
    return f"{stopped} costs {points(plan.bound)} or more; the best that it found costs {plan.chains[0].cost}. {proven}"


def points(count: int) -> str:
    """A number of points.

    >>> points(1), points(-3)
    ('1 point', '-3 points')
    """
    return f"{count} point{'s' * (abs(count) != 1)}"


def _alone(plan: Plan) -> str:
    if plan.supplied:
        return "It is the best that the shelf can supply."
    if plan.bound is not None:
        return "It is the best that was found."
    return "No chain has fewer points." if plan.top == 1 else "It is the only chain that the rules leave."


def _earlier(first: Chain, second: Chain) -> str:
    """What stands in the first slot in which the two differ, of one before the other."""
    one, other = next((a, b) for a, b in zip(first.picks, second.picks, strict=True) if a != b)
    if one.id == other.id and one.cure and other.cure:
        return f"of {one.entry.name if one.entry else ''} the cure {one.cure['id']} before {other.cure['id']}"
    return " before ".join(option.entry.name if option.entry else "nothing" for option in (one, other))


def _told(plan: Plan, gain: int, one: Score, other: Score) -> str:
    """A criterion with both values where they say what the points say; points also weigh, and count every member."""
    better = one.value > other.value if one.criterion in _MORE_IS_BETTER else one.value < other.value
    told = f"{_value(one)} against {_value(other)}" if better else "all together"
    factor = plan.screened.ranking.scale.get(one.criterion)
    preferred = f", for they count {factor} times as preferred" if factor else ""
    return f"{one.criterion} ({told}: {points(gain)}{preferred})"


_MORE_IS_BETTER = ("preferences", "temperature headroom")


def _value(score: Score) -> str:
    return duration(score.value) if score.unit == "min" else f"{shown(score.value)} {score.unit}"
