"""What is searched: slots with options that cost, and constraints that forbid or cost combinations of them.

This is a weighted constraint problem in which every constraint holds on a product of sets: an option set (a bit mask,
kb.engine.search.masks) for each slot of its scope.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from kb.engine.search.masks import merged, union

#: The options of a slot by what each costs by itself: (points, milliseconds) -> mask.
Levels = Mapping[tuple[int, int], int]


class Constraint(NamedTuple):
    """Forbids, or costs points and milliseconds, where each slot of `sets` is filled from its mask."""

    sets: Mapping[int, int]
    cost: int = 0
    ms: int = 0
    forbids: bool = False

    @property
    def counts(self) -> bool:
        """Whether it changes any chain; one that doesn't would only widen the search."""
        return self.forbids or bool(self.cost or self.ms)


class SearchProblem(NamedTuple):
    """What is left in each slot, the constraints that join slots, and the time that a chain may take."""

    options: tuple[Levels, ...]
    constraints: tuple[Constraint, ...]
    limit_ms: int | None = None

    def only(self, masks: Sequence[int]) -> SearchProblem:
        """Keep those options alone that lie in the mask of their slot, and that no constraint forbids among those."""
        left = self._allowed([union(levels.values()) & mask for levels, mask in zip(self.options, masks, strict=True)])
        options = (
            merged((level, members & mask) for level, members in levels.items())
            for levels, mask in zip(self.options, left, strict=True)
        )
        return self._replace(options=tuple(options))

    def _allowed(self, left: list[int]) -> list[int]:
        """Take out what is forbidden whatever else stands in the chain, until nothing changes (node consistency)."""
        forbidding = [constraint.sets for constraint in self.constraints if constraint.forbids]
        before: list[int] = []
        while left != before:
            before = [*left]
            for sets in forbidding:
                telling = [(slot, mask & left[slot]) for slot, mask in sets.items() if left[slot] & ~mask]
                if not telling:
                    return [0] * len(left)
                if len(telling) == 1:
                    slot, mask = telling[0]
                    left[slot] &= ~mask
        return left


class Label(NamedTuple):
    """A complete chain: its cost, the position of its option in each slot, and its time."""

    cost: int
    picks: tuple[int, ...]
    ms: int
