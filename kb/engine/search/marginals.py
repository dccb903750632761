"""What a chain through an option costs at the least, worked out for all options of a slot at once.

The slots are hung on a tree: each leans on another, so that the rules that matter most join slots of which one leans
on the other. These are reckoned with exactly, up the tree and down again. Of other rules between two slots the later
one counts the best that any option of the earlier could do for it; of what is left, the points that may be taken off.
So no chain costs less, and an option that is too dear even so needn't be looked at further: few are left for the
search, however many there are.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from kb.engine.search.bounds import View, at_best, gifts, pairs, worth
from kb.engine.search.layers import Frontier, Levels, Problem, frontiers, gathered, parts, union

#: Options of a slot by a cost, least first.
Costs = list[tuple[int, int]]


class Tree:
    """The slots of a walk, each leaning on another or, at a root, on none."""

    def __init__(self, walk: Sequence[Frontier]) -> None:
        self.branches = [Branch(frontier) for frontier in walk]
        #: Each after the one that it leans on.
        self._order = _hung(self.branches)
        along = union(branch.joined for branch in self.branches)
        for branch in reversed(self._order):
            branch.weigh(along, self.branches)
        roots = [branch.costs for branch in self.branches if branch.parent is None]
        #: What the best chain costs at the least; None where there is certainly none.
        self.least = sum(costs[0][0] for costs in roots) if all(roots) else None
        rules = {bit: rule for frontier in walk for bit, rule in frontier.effects.items() if not bit & along}
        #: The smallest points of a rule that isn't along the tree.
        self.step = min((abs(rule.cost) for rule in rules.values() if rule.cost), default=1)

    def within(self, most: int) -> tuple[list[Costs], int | None]:
        """For each slot the options that a chain of cost `most` or less may use, by what it costs at the least.

        With it, the least that was met above `most`; None where nothing was left out.
        """
        if self.least is None:
            return [[] for _ in self.branches], None
        found: dict[Branch, Costs] = {}
        beyond: list[int] = []
        for branch in self._order:
            if branch.parent is None:
                others = self.least - branch.costs[0][0]
                costs = [(cost + others, members) for cost, members in branch.costs]
                found[branch] = [pair for pair in costs if pair[0] <= most]
                beyond += [cost for cost, _ in costs if cost > most][:1]
            else:
                found[branch] = branch.within(most, found[branch.parent], beyond)
        return [found[branch] for branch in self.branches], min(beyond, default=None)


def in_time(problem: Problem, limit_ms: int) -> tuple[Levels, ...]:
    """The options of each slot but those through which every chain plainly takes longer than `limit_ms`."""
    times = [gathered(((ms, ms), members) for (_, ms), members in levels.items()) for levels in problem.options]
    reach, _ = Tree(frontiers(times, [rule._replace(cost=rule.ms) for rule in problem.rules])).within(limit_ms)
    return problem.only([union(members for _, members in costs) for costs in reach]).options


def _hung(branches: Sequence[Branch]) -> list[Branch]:
    """Hangs the branches on a tree; returns them in the order in which they were hung."""
    joins = {(first, last): bits for last, branch in enumerate(branches) for first, bits in branch.joins.items()}
    worths = {pair: worth(branches[pair[1]].frontier, bits) for pair, bits in joins.items()}
    hung: dict[int, Branch] = {}
    while len(hung) < len(branches):
        ways = [pair for pair in joins if (pair[0] in hung) != (pair[1] in hung)]
        if ways:
            first, last = min(ways, key=lambda pair: (worths[pair], pair))
            slot, parent = (last, first) if first in hung else (first, last)
            branches[slot].lean(branches[parent], joins[first, last], branches[last].frontier)
        else:
            slot = min(set(range(len(branches))) - set(hung))
        hung[slot] = branches[slot]
    return [*hung.values()]


class Branch:
    """A slot with what leans on it."""

    def __init__(self, frontier: Frontier) -> None:
        self.frontier, self.joins = frontier, pairs(frontier)
        self.parent: Branch | None = None
        self.children: list[Branch] = []
        #: The rules that join it to the slot that it leans on, and where they end: in the later one of the two.
        self.joined, self.ends = 0, frontier
        #: The options of that slot, and its own, by the joined rules that they match.
        self.sides: dict[int, int] = {}
        self.own: dict[int, int] = {}
        #: Its options by what they and all that leans on the slot cost at the least.
        self.costs: Costs = []
        self.seen = View(frontier, 0, ())

    def lean(self, parent: Branch, joined: int, ends: Frontier) -> None:
        """Hangs it on `parent`, which the rules `joined` join it to."""
        self.parent, self.joined, self.ends = parent, joined, ends
        self.sides, self.own = parent.parts(joined), self.parts(joined)
        parent.children.append(self)

    def parts(self, rules: int) -> dict[int, int]:
        """The slot's options by which of `rules` they match."""
        sets = [(mask, here) for mask, bits in self.frontier.sets.items() if (here := bits & rules)]
        return parts(union(self.frontier.levels.values()), sets)

    def weigh(self, along: int, branches: Sequence[Branch]) -> None:
        """Works out `costs`, with the rules `along` the tree; those of all that lean on the slot are known by now."""
        costs = gathered((cost, members) for (cost, _), members in self.frontier.levels.items())
        for child in self.children:
            costs = _crossed(costs, ((child.seen.least(alive), members) for alive, members in child.sides.items()))
        for earlier, bits in self.joins.items():
            if not bits & along:
                own = self.parts(bits)
                best = at_best(self.frontier, branches[earlier].parts(bits), own)
                costs = _crossed(costs, ((best[matches], members) for matches, members in own.items()))
        for bit, rule in self.frontier.effects.items():
            if len(rule.sets) != 2 and (points := gifts(self.frontier, bit)):
                mask = rule.sets[max(rule.sets)]
                costs = _crossed(costs, ((points, mask), (0, ~mask)))
        self.costs = sorted(costs.items())
        ways = []
        for matches, members in self.own.items():
            least = next((cost for cost, here in self.costs if here & members), None)
            if least is not None:
                ways.append((least + gifts(self.ends, matches), least, matches))
        self.seen = View(self.ends, self.joined, sorted(ways))

    def within(self, most: int, above: Costs, beyond: list[int]) -> Costs:
        """As `Tree.within`, for one slot; `above` is what that gave for its parent. Adds to `beyond`."""
        # What the chain without this branch costs at the least, by what it says of the joined rules.
        others: list[tuple[int, int]] = []
        for alive, members in self.sides.items():
            least = next((cost for cost, here in above if here & members), None)
            if least is not None:
                others.append((least - (self.seen.least(alive) or 0), alive))
        others.sort()
        found: dict[int, int] = {}
        for floor, least, matches in self.seen.ways if others else ():
            if others[0][0] + floor > most:
                beyond.append(others[0][0] + floor)
                break
            extra = self._extra(others, floor - least, matches)
            if extra is None:
                continue
            members = self.own[matches]
            for cost, options in self.costs:
                here = options & members
                if here:
                    if cost + extra > most:
                        beyond.append(cost + extra)
                        break
                    found[cost + extra] = found.get(cost + extra, 0) | here
                    members ^= here
                    if not members:
                        break
        return sorted(found.items())

    def _extra(self, others: Sequence[tuple[int, int]], gift: int, matches: int) -> int | None:
        """What the chain adds at the least to options that match these joined rules, which take off `gift` at best."""
        extra: int | None = None
        for rest, alive in others:
            if extra is not None and rest + gift >= extra:
                break
            effect = self.ends.effect(alive & matches)
            if effect is not None and (extra is None or rest + effect[0] < extra):
                extra = rest + effect[0]
        return extra


def _crossed(one: Mapping[int, int], other: Iterable[tuple[int | None, int]]) -> dict[int, int]:
    """The options that both hold, at the sum of what each says; without those of which the other says None."""
    rows = gathered((points, members) for points, members in other if points is not None).items()
    return gathered((cost + more, members & mask) for cost, members in one.items() for more, mask in rows)
