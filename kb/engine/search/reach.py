"""Which options any allowed chain uses at all, and how fast: for reasons why not, and for whether a chain exists.

Points don't matter here, so only rules that forbid or take time are walked. Where the states still grow too many
for a slot, those that most rules concern are taken together as one that only their common rules concern: then
an option may be called usable that isn't, but none is refused that could be used.
"""

from __future__ import annotations

from kb.engine.search.k_best import MOST_MOVES
from kb.engine.search.layers import Frontier, Problem, frontiers, gathered

#: States by the least milliseconds that lead to them.
States = dict[int, int]


def feasible(problem: Problem, most_moves: int = MOST_MOVES) -> bool:
    """Whether any chain keeps every rule and the time limit."""
    walk = _walk(problem)
    last, _ = _forward(walk, most_moves)[-1]
    return 0 in last and (problem.limit_ms is None or last[0] <= problem.limit_ms)


def fastest(problem: Problem, most_moves: int = MOST_MOVES) -> list[dict[int, int]]:
    """For each slot, its options by the milliseconds of the fastest allowed chain that uses them: time -> mask.

    An option that no allowed chain uses is in none. The time limit isn't applied: who asks compares.
    """
    walk = _walk(problem)
    layers = _forward(walk, most_moves)
    after: States = {0: 0}
    found: list[dict[int, int]] = []
    for slot in range(len(walk) - 1, -1, -1):
        reached, stands = layers[slot][0], layers[slot + 1][1]
        least: dict[int, int] = {}
        before: States = {}
        for state, spent in reached.items():
            for group, following, _, ms in walk[slot].moves(state, walk[slot].groups):
                rest = after.get(stands.get(following, following))
                if rest is not None:
                    rest += ms
                    least[group.matches] = min(spent + rest, least.get(group.matches, spent + rest))
                    before[state] = min(rest + group.ms, before.get(state, rest + group.ms))
        after = before
        found.append(
            gathered(
                (least[group.matches] + ms, members)
                for group in walk[slot].groups
                if group.matches in least
                for _, ms, members in group.levels
            )
        )
    return found[::-1]


def _walk(problem: Problem) -> list[Frontier]:
    """The slots with the rules that forbid or take time; without a time limit with those that forbid."""
    timed = problem.limit_ms is not None
    rules = [rule for rule in problem.rules if rule.forbids or (timed and rule.ms)]
    walk = frontiers(
        [gathered(((0, ms if timed else 0), mask) for (_, ms), mask in levels.items()) for levels in problem.options],
        rules,
    )
    for frontier in walk:
        frontier.split(-1)
    return walk


def _forward(walk: list[Frontier], most_moves: int) -> list[tuple[States, States]]:
    """The states before each slot and after the last, each with which state stands for those taken together."""
    layers: list[tuple[States, States]] = [({0: 0}, {})]
    for slot, frontier in enumerate(walk):
        reached: States = {}
        for state, spent in layers[slot][0].items():
            for group, after, _, ms in frontier.moves(state, frontier.groups):
                total = spent + group.ms + ms
                if after not in reached or total < reached[after]:
                    reached[after] = total
        groups = len(walk[slot + 1].groups) if slot + 1 < len(walk) else 1
        layers.append(_narrowed(reached, max(1, most_moves // max(1, groups))))
    return layers


def _narrowed(reached: States, room: int) -> tuple[States, States]:
    """At most `room` states; the rest stand together for less than each of them, so that nothing is lost."""
    if len(reached) <= room:
        return reached, {}
    ordered = sorted(reached, key=lambda state: (state.bit_count(), state))
    kept, rest = ordered[: room - 1], ordered[room - 1 :]
    common = rest[0]
    for state in rest:
        common &= state
    narrowed = {state: reached[state] for state in kept}
    narrowed[common] = min(min(reached[state] for state in rest), narrowed.get(common, reached[rest[0]]))
    return narrowed, dict.fromkeys(rest, common)
