"""What the rest of a chain costs at the least, seen from a state: never more than it really costs.

Each slot leans on one earlier slot, the one that most rules join it to: a tree. Rules along the tree are reckoned
with exactly, from the last slot backwards; of other rules, those that a state has left undecided in one slot are
reckoned with in that slot, and the points that rules may take off are always taken off. So the search may let go of
what can't pay off even so, and needn't look far.
"""

from __future__ import annotations

from collections.abc import Sequence

from kb.engine.frontier import Frontier, bits_of


class Outlook:
    """Least costs of the rest for every state after every slot, kept by what a state says of each later slot.

    Puts each slot's groups in order of `least`: what they cost at the least, with all that leans on the slot.
    """

    def __init__(self, walk: Sequence[Frontier]) -> None:
        slots = [_Slot(number, frontier) for number, frontier in enumerate(walk)]
        for slot in reversed(slots):
            slot.weigh(walk[slot.number], [s for s in slots if s.parent == slot.number])
        self.least = [[least for least, _ in slot.groups] for slot in slots]
        #: Before each slot: it and the later ones that lean on no slot between, each as seen from there.
        self._views = [
            [View(slot, here) for slot in slots[here:] if slot.parent is None or slot.parent < here]
            for here in range(len(walk) + 1)
        ]

    def rest(self, slot: int, state: int) -> tuple[int, int] | None:
        """Points that `slot`, and all later ones, cost at the least from `state` on; None if there is no way on."""
        views = iter(self._views[slot])
        following = next(views, None)
        here = 0 if following is None else following.least(state)
        if here is None:
            return None
        total = 0
        for view in views:
            least = view.least(state)
            if least is None:
                return None
            total += least
        return here, total


class _Slot:
    """A slot with what each of its groups costs at the least, what leans on it included."""

    def __init__(self, number: int, frontier: Frontier) -> None:
        self.number = number
        self.rules = frontier.effects
        pairs: dict[int, int] = {}
        for bit, rule in self.rules.items():
            if len(rule.sets) == 2:
                first = min(rule.sets)
                pairs[first] = pairs.get(first, 0) | bit
        #: The earlier slot that it leans on, and the rules between them.
        self.parent = max(pairs, key=lambda slot: (pairs[slot].bit_count(), slot)) if pairs else None
        self.joined = pairs.get(self.parent, 0) if self.parent is not None else 0
        self.gifts = {bit: rule.cost for bit, rule in self.rules.items() if rule.cost < 0 and not rule.forbids}
        self.groups: list[tuple[int, int]] = []

    def weigh(self, frontier: Frontier, children: Sequence[_Slot]) -> None:
        """The groups by their least cost: (points, matches), all gifts taken."""
        views = [View(child) for child in children]
        for group in frontier.groups:
            total = group.cost + sum(points for bit, points in self.gifts.items() if group.matches & bit)
            leasts = [view.least(group.matches) for view in views]
            if None not in leasts:
                self.groups.append((total + sum(least for least in leasts if least is not None), group.matches))
        self.groups.sort(key=lambda pair: pair[0])
        place = {matches: number for number, (_, matches) in enumerate(self.groups)}
        frontier.groups = sorted((g for g in frontier.groups if g.matches in place), key=lambda g: place[g.matches])


class View:
    """A slot as seen from before slot number `here`, or (left out) from the slot that it leans on."""

    def __init__(self, slot: _Slot, here: int | None = None) -> None:
        self.slot = slot
        #: Rules that end in the slot: those that have started, and those that only it can still decide.
        self.started = self.decided = slot.joined
        if here is not None:
            self.started = self.decided = 0
            for bit, rule in slot.rules.items():
                others = sorted(rule.sets)[:-1]
                if others and others[0] < here:
                    self.started |= bit
                    self.decided |= bit if others[-1] < here else 0
        self.known: dict[int, int | None] = {}

    def least(self, state: int) -> int | None:
        """The cheapest group of the slot, given which of the started rules are still alive; None if none is allowed."""
        alive = state & self.started
        if alive not in self.known:
            self.known[alive] = self._least(alive)
        return self.known[alive]

    def _least(self, alive: int) -> int | None:
        dead = [(bit, points) for bit, points in self.slot.gifts.items() if bit & self.started & ~alive]
        forbidding, dear = 0, []
        for bit in bits_of(alive & self.decided):
            rule = self.slot.rules[bit]
            if rule.forbids:
                forbidding |= bit
            elif rule.cost > 0:
                dear.append((bit, rule.cost))
        best: int | None = None
        for least, matches in self.slot.groups:
            if best is not None and least >= best:
                break
            if not matches & forbidding:
                cost = least - sum(points for bit, points in dead if matches & bit)
                cost += sum(points for bit, points in dear if matches & bit)
                best = cost if best is None else min(best, cost)
        return best
