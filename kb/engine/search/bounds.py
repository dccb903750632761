"""What a slot costs at the least, seen from another: the pieces that tree and outlook share."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

from kb.engine.search.layers import Frontier, bits_of

#: Ways to fill a slot: (the least that it may come to, the least without the decided rules, rules that it matches).
Way = tuple[int, int, int]


def pairs(frontier: Frontier) -> dict[int, int]:
    """By earlier slot the rules, as bits, that join it and nothing else to the slot of `frontier`."""
    found: dict[int, int] = {}
    for bit, rule in frontier.effects.items():
        if len(rule.sets) == 2 and (rule.forbids or rule.cost):
            earlier = min(rule.sets)
            found[earlier] = found.get(earlier, 0) | bit
    return found


def worth(frontier: Frontier, rules: int) -> tuple[int, int]:
    """How much it matters that `rules`, which end in `frontier`, are reckoned with exactly; the least matters most.

    Points that they may take off count first: a bound takes them for granted. Then how many rules they are.
    """
    return gifts(frontier, rules), -rules.bit_count()


def gifts(frontier: Frontier, rules: int) -> int:
    """The points that `rules` may take off, all of them together: zero or less."""
    return sum(min(0, rule.cost) for bit in bits_of(rules) if not (rule := frontier.effects[bit]).forbids)


def at_best(frontier: Frontier, sides: Collection[int], matched: Iterable[int]) -> dict[int, int | None]:
    """For each set of rules in `matched` what they come to with whichever of `sides` is best; None: all are forbidden.

    The rules end in `frontier`; `sides` are the sets of them that options of the other slot match.
    """
    found: dict[int, int | None] = {}
    for matches in matched:
        if matches not in found:
            effects = [frontier.effect(side & matches) for side in sides]
            found[matches] = min([effect[0] for effect in effects if effect is not None], default=None)
    return found


class View:
    """A slot seen from where some of the rules that end in `frontier` are decided but for that slot."""

    def __init__(self, frontier: Frontier, decided: int, ways: Sequence[Way]) -> None:
        """`ways` by what they may come to, the least first."""
        self.frontier, self.decided, self.ways = frontier, decided, ways
        #: How many ways were looked at so far: the work that it took.
        self.looked = 0
        self._known: dict[int, int | None] = {}

    def least(self, alive: int) -> int | None:
        """What the cheapest way comes to, where of the decided rules just `alive` still hold; None: none is allowed."""
        alive = (alive | self.frontier.starts) & self.decided
        if alive not in self._known:
            best: int | None = None
            for floor, least, matches in self.ways:
                if best is not None and floor >= best:
                    break
                effect = self.frontier.effect(alive & matches)
                self.looked += 1
                if effect is not None and (best is None or least + effect[0] < best):
                    best = least + effect[0]
            self._known[alive] = best
        return self._known[alive]
