"""What the rest of a chain costs at the least, seen from a state: never more than it really costs.

Each slot leans on one earlier slot: a tree. Rules along the tree are reckoned with exactly, from the last slot
backwards, and so are those of which a state has decided all but the slot in which they end. Of others that join two
slots each slot counts the best that the earlier one could do for it; of what is left, the points that may be taken
off. So the search may let go of what can't pay off even so, and needn't look far.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from kb.engine.search.bounds import View, at_best, gifts, pairs, worth
from kb.engine.search.layers import Frontier, Group, union


class Outlook:
    """Least costs of the rest for every state after every slot, kept by what a state says of each later slot.

    Puts each slot's groups in order of `least`: what they cost at the least, with all that leans on the slot.
    """

    def __init__(self, walk: Sequence[Frontier]) -> None:
        slots = [_Slot(number, frontier) for number, frontier in enumerate(walk)]
        for slot in reversed(slots):
            slot.weigh(walk, [other for other in slots if other.parent == slot.number])
        self.least = [slot.order() for slot in slots]
        #: Before each slot: it and the later ones that lean on no slot between, each as seen from there.
        self._views = [
            [slot.view(range(here)) for slot in slots[here:] if slot.parent is None or slot.parent < here]
            for here in range(len(walk) + 1)
        ]

    def rest(self, slot: int, state: int) -> tuple[int, int] | None:
        """Points that `slot`, and all later ones, cost at the least from `state` on; None if there is no way on."""
        leasts = []
        for view in self._views[slot]:
            least = view.least(state)
            if least is None:
                return None
            leasts.append(least)
        return (leasts[0], sum(leasts[1:])) if leasts else (0, 0)

    def at_least(self, slot: int) -> int:
        """What `slot` and all later ones cost at the least from any state on."""
        return sum(view.ways[0][0] for view in self._views[slot] if view.ways)

    def looked(self, slot: int) -> int:
        """The work that it took to answer for `slot`, in ways looked at."""
        return sum(view.looked for view in self._views[slot])


class _Slot:
    """A slot with what each of its groups costs at the least, what leans on it included."""

    def __init__(self, number: int, frontier: Frontier) -> None:
        self.number, self.frontier = number, frontier
        self.joins = pairs(frontier)
        #: The earlier slot that it leans on.
        self.parent = min(self.joins, key=lambda slot: (worth(frontier, self.joins[slot]), -slot), default=None)
        #: Other rules that end in the slot, with the other slots that they concern.
        self.others = {bit: sorted(rule.sets)[:-1] for bit, rule in frontier.effects.items() if len(rule.sets) != 2}
        #: Groups that lead anywhere, by their own points and those of all that leans on the slot.
        self.groups: list[tuple[int, Group]] = []
        #: By earlier slot and matched rules, what these come to at best.
        self._best: dict[int, dict[int, int | None]] = {}
        self._views: dict[int, View] = {}

    def weigh(self, walk: Sequence[Frontier], children: Sequence[_Slot]) -> None:
        """Works out what each group costs; the groups of all that lean on the slot are weighed by now."""
        views = [child.view((self.number,)) for child in children]
        for group in self.frontier.groups:
            leasts = [least for view in views if (least := view.least(group.matches)) is not None]
            if len(leasts) == len(views):
                self.groups.append((group.cost + sum(leasts), group))
        for earlier, bits in self.joins.items():
            sides = {group.matches & bits for group in walk[earlier].groups}
            self._best[earlier] = at_best(self.frontier, sides, (group.matches & bits for _, group in self.groups))

    def order(self) -> list[int]:
        """Puts the frontier's groups in order of what they cost at the least, and returns that."""
        rows = self._rows(())
        rows.sort(key=lambda row: row[0])
        self.frontier.groups = [group for _, _, group in rows]
        return [least for least, _, _ in rows]

    def view(self, filled: Collection[int]) -> View:
        """The slot as seen from where the slots in `filled` are."""
        decided = self._decided(filled)
        if decided not in self._views:
            ways = sorted((floor, least, group.matches) for floor, least, group in self._rows(filled))
            self._views[decided] = View(self.frontier, decided, ways)
        return self._views[decided]

    def _decided(self, filled: Collection[int]) -> int:
        """The rules of which everything but this slot is decided."""
        found = union(bits for earlier, bits in self.joins.items() if earlier in filled)
        return found | union(bit for bit, slots in self.others.items() if all(slot in filled for slot in slots))

    def _rows(self, filled: Collection[int]) -> list[tuple[int, int, Group]]:
        """The groups by the least that they may come to, and the least without the decided rules."""
        decided = self._decided(filled)
        loose = union(self.others) & ~decided
        open_ = [(self.joins[earlier], best) for earlier, best in self._best.items() if earlier not in filled]
        found = []
        for points, group in self.groups:
            at_least = [least for bits, best in open_ if (least := best[group.matches & bits]) is not None]
            if len(at_least) == len(open_):
                least = points + sum(at_least) + gifts(self.frontier, group.matches & loose)
                found.append((least + gifts(self.frontier, group.matches & decided), least, group))
        return found
