"""Lower bounds on the cost-to-go of every state: a spanning tree in which each slot is the child of an earlier one.

What a state says of a later slot reaches it through that slot's message: the constraints that join it to its parent are
reckoned with as the state has decided them, all others as in the min-marginals.
"""

from __future__ import annotations

from collections.abc import Sequence

from kb.engine.search.bounds import best_case, edge_weight
from kb.engine.search.layers import Layer
from kb.engine.search.marginals import Node, least
from kb.engine.search.masks import union


class LowerBounds:
    """Bounds for every state before every slot, kept by what a state says of each later slot."""

    def __init__(self, layers: Sequence[Layer]) -> None:
        nodes = [Node(layer) for layer in layers]
        parents = [_parent(node) for node in nodes]
        for node, parent in zip(nodes, parents, strict=True):
            if parent is not None:
                node.attach(nodes[parent], node.pairs[parent], node.layer)
        for node in reversed(nodes):
            node.collect(nodes)
        #: For each slot what its groups cost at the least, least first: the layer's groups are put in that order.
        self.least = [_ordered(node) for node in nodes]
        #: Before each slot: the messages of it, and of the later ones whose parent isn't between.
        self._messages = [
            [nodes[n].message for n in range(here, len(nodes)) if (parent := parents[n]) is None or parent < here]
            for here in range(len(nodes) + 1)
        ]

    def of(self, slot: int, state: int) -> tuple[int, int] | None:
        """Give what `slot`, and all later ones, cost at the least from `state` on; None if there is no way on."""
        leasts = []
        for message in self._messages[slot]:
            cost = message.least(state)
            if cost is None:
                return None
            leasts.append(cost)
        return (leasts[0], sum(leasts[1:])) if leasts else (0, 0)

    def of_any_state(self, slot: int) -> int:
        """Give what `slot` and all later ones cost at the least from any state on."""
        return sum(message.rows[0][0] for message in self._messages[slot] if message.rows)

    def work(self, slot: int) -> int:
        """Count the rows looked at so far to answer for `slot`."""
        return sum(message.work for message in self._messages[slot])


def _parent(node: Node) -> int | None:
    """Choose the earlier slot whose constraints with the node's matter most, the later of equals."""
    return min(node.pairs, key=lambda slot: (edge_weight(node.layer, node.pairs[slot]), -slot), default=None)


def _ordered(node: Node) -> list[int]:
    """Put a layer's groups in order of what they and the subtree below cost at the least, and return that."""
    rows = []
    for group in node.layer.groups:
        cost = least(node.costs, union(members for _, _, members in group.levels))
        if cost is not None:
            rows.append((cost + best_case(node.layer, group.matches & node.joined), group))
    rows.sort(key=lambda row: row[0])
    node.layer.groups = [group for _, group in rows]
    return [cost for cost, _ in rows]
