"""Lower bounds on what constraints add to a chain, seen from one slot: what min-marginals are made of."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence

from kb.engine.search.layers import Layer
from kb.engine.search.masks import bits_of, merged

#: Ways to fill a slot: (lower bound, least cost without the decided constraints, constraints matched), least first.
Row = tuple[int, int, int]


def pairs(layer: Layer) -> dict[int, int]:
    """Give, by earlier slot, the constraints, as bits, that join it and nothing else to the slot of `layer`."""
    joining: dict[int, int] = {}
    for bit, constraint in layer.ending.items():
        if len(constraint.sets) == 2 and (constraint.forbids or constraint.cost):
            earlier = min(constraint.sets)
            joining[earlier] = joining.get(earlier, 0) | bit
    return joining


def best_case(layer: Layer, constraints: int) -> int:
    """Sum the points that `constraints`, which end in `layer`, may take off, all of them together: zero or less."""
    return sum(layer.ending[bit].cost for bit in bits_of(constraints & layer.bonuses))


def edge_weight(layer: Layer, constraints: int) -> tuple[int, int]:
    """Weigh an edge of the spanning tree by its `constraints`, which end in `layer`: the least is reckoned with first.

    Points that they may take off come first, since a bound takes them for granted; then how many constraints they are.
    """
    return best_case(layer, constraints), -constraints.bit_count()


def eliminated(layer: Layer, others: Collection[int], matched: Iterable[int]) -> dict[int, int | None]:
    """Minimise constraints that end in `layer` over the other slot that they join: by what an option here matches.

    `others` are the sets of constraints that options of the other slot match. None: whatever stands there, one forbids.
    """
    least: dict[int, int | None] = {}
    for matches in matched:
        if matches not in least:
            effects = [layer.effect(other & matches) for other in others]
            least[matches] = min([effect[0] for effect in effects if effect is not None], default=None)
    return least


def added(costs: Mapping[int, int], more: Iterable[tuple[int | None, int]]) -> dict[int, int]:
    """Add to options by their cost what `more` says of each; options of which that says None are left out."""
    rows = merged((points, members) for points, members in more if points is not None).items()
    return merged((cost + extra, members & mask) for cost, members in costs.items() for extra, mask in rows)


class Message:
    """What a slot and the subtree below it cost at the least: told to where some constraints on it are decided.

    A min-sum message. The `decided` constraints end in `layer`, and everything in them but this slot is decided.
    """

    def __init__(self, layer: Layer, decided: int, rows: Sequence[Row]) -> None:
        self.layer, self.decided, self.rows = layer, decided, rows
        #: How many rows were looked at so far: the work that it took.
        self.work = 0
        self._least: dict[int, int | None] = {}

    def least(self, met: int) -> int | None:
        """Give the least cost where of the decided constraints just `met` are met so far; None: nothing is allowed."""
        met = (met | self.layer.begins) & self.decided
        if met not in self._least:
            least: int | None = None
            for bound, cost, matches in self.rows:
                if least is not None and bound >= least:
                    break
                effect = self.layer.effect(met & matches)
                self.work += 1
                if effect is not None and (least is None or cost + effect[0] < least):
                    least = cost + effect[0]
            self._least[met] = least
        return self._least[met]
