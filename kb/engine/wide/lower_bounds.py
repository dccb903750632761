"""Lower bounds on the cost-to-go of every state.

Each slot is the child of one earlier slot: a tree. Constraints along it are reckoned with exactly, from the last slot
backwards, and so are those of which a state has decided all but the slot in which they end. Of others that join two
slots each slot counts the best that the earlier one could do for it; of what is left, the points that may be taken off.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from kb.engine.search.bounds import Message, best_case, edge_weight, eliminated, pairs
from kb.engine.search.layers import Group, Layer
from kb.engine.search.masks import union


class LowerBounds:
    """Bounds for every state before every slot, kept by what a state says of each later slot.

    Puts each layer's groups in order of `least`: what they cost at the least, with the subtree below.
    """

    def __init__(self, layers: Sequence[Layer]) -> None:
        slots = [_Slot(number, layer) for number, layer in enumerate(layers)]
        for slot in reversed(slots):
            slot.collect(layers, [other for other in slots if other.parent == slot.number])
        self.least = [slot.order() for slot in slots]
        #: Before each slot: it and the later ones whose parent isn't between, each as seen from there.
        self._messages = [
            [slot.message(range(here)) for slot in slots[here:] if slot.parent is None or slot.parent < here]
            for here in range(len(layers) + 1)
        ]

    def of(self, slot: int, state: int) -> tuple[int, int] | None:
        """Give what `slot`, and all later ones, cost at the least from `state` on; None if there is no way on."""
        leasts = []
        for message in self._messages[slot]:
            least = message.least(state)
            if least is None:
                return None
            leasts.append(least)
        return (leasts[0], sum(leasts[1:])) if leasts else (0, 0)

    def of_any_state(self, slot: int) -> int:
        """Give what `slot` and all later ones cost at the least from any state on."""
        return sum(message.rows[0][0] for message in self._messages[slot] if message.rows)

    def work(self, slot: int) -> int:
        """Count the rows looked at so far to answer for `slot`."""
        return sum(message.work for message in self._messages[slot])


class _Slot:
    """A slot with what each of its groups costs at the least, the subtree below it included."""

    def __init__(self, number: int, layer: Layer) -> None:
        self.number, self.layer = number, layer
        self.pairs = pairs(layer)
        #: The earlier slot whose child it is.
        self.parent = min(self.pairs, key=lambda slot: (edge_weight(layer, self.pairs[slot]), -slot), default=None)
        #: Other constraints that end in the slot, with the other slots that they concern.
        self.others = {bit: sorted(c.sets)[:-1] for bit, c in layer.ending.items() if len(c.sets) != 2}
        #: Groups that lead anywhere, by their own points and those of the subtree below.
        self.groups: list[tuple[int, Group]] = []
        #: By earlier slot and matched constraints, what these come to at best.
        self._eliminated: dict[int, dict[int, int | None]] = {}
        self._messages: dict[int, Message] = {}

    def collect(self, layers: Sequence[Layer], children: Sequence[_Slot]) -> None:
        """Work out what each group costs; the children's groups are known by now."""
        messages = [child.message((self.number,)) for child in children]
        for group in self.layer.groups:
            leasts = [least for message in messages if (least := message.least(group.matches)) is not None]
            if len(leasts) == len(messages):
                self.groups.append((group.cost + sum(leasts), group))
        for earlier, bits in self.pairs.items():
            others = {group.matches & bits for group in layers[earlier].groups}
            self._eliminated[earlier] = eliminated(self.layer, others, (g.matches & bits for _, g in self.groups))

    def order(self) -> list[int]:
        """Put the layer's groups in order of what they cost at the least, and return that."""
        rows = sorted(self._rows(()), key=lambda row: row[0])
        self.layer.groups = [group for _, _, group in rows]
        return [least for least, _, _ in rows]

    def message(self, filled: Collection[int]) -> Message:
        """Give the slot's message to where the slots in `filled` are."""
        decided = self._decided(filled)
        if decided not in self._messages:
            rows = sorted((bound, cost, group.matches) for bound, cost, group in self._rows(filled))
            self._messages[decided] = Message(self.layer, decided, rows)
        return self._messages[decided]

    def _decided(self, filled: Collection[int]) -> int:
        """Unite the constraints of which everything but this slot is decided."""
        joining = union(bits for earlier, bits in self.pairs.items() if earlier in filled)
        return joining | union(bit for bit, slots in self.others.items() if all(slot in filled for slot in slots))

    def _rows(self, filled: Collection[int]) -> list[tuple[int, int, Group]]:
        """Give the groups by their lower bound, and their least cost without the decided constraints."""
        decided = self._decided(filled)
        loose = union(self.others) & ~decided
        undecided = [(self.pairs[slot], least) for slot, least in self._eliminated.items() if slot not in filled]
        rows = []
        for points, group in self.groups:
            leasts = [cost for bits, least in undecided if (cost := least[group.matches & bits]) is not None]
            if len(leasts) == len(undecided):
                cost = points + sum(leasts) + best_case(self.layer, group.matches & loose)
                rows.append((cost + best_case(self.layer, group.matches & decided), cost, group))
        return rows
