"""What is searched: slots with options that cost, and constraints that forbid or cost combinations of them.

This is a weighted constraint problem in which every constraint holds on a product of sets: an option set (a bit mask,
kb.engine.search.masks) for each slot of its scope.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from kb.engine.search.masks import merged

#: The options of a slot by what each costs by itself: (points, milliseconds) -> mask.
Levels = Mapping[tuple[int, int], int]


class Constraint(NamedTuple):
    """Forbids, or costs points and milliseconds, where each slot of `sets` is filled from its mask."""

    sets: Mapping[int, int]
    cost: int = 0
    ms: int = 0
    forbids: bool = False


class SearchProblem(NamedTuple):
    """What is left in each slot, the constraints that join slots, and the time that a chain may take."""

    options: tuple[Levels, ...]
    constraints: tuple[Constraint, ...]
    limit_ms: int | None = None

    def only(self, masks: Sequence[int]) -> SearchProblem:
        """Keep those options alone that lie in the mask of their slot."""
        options = (
            merged((level, members & mask) for level, members in levels.items())
            for levels, mask in zip(self.options, masks, strict=True)
        )
        return self._replace(options=tuple(options))


class Label(NamedTuple):
    """A complete chain: its cost, the position of its option in each slot, and its time."""

    cost: int
    picks: tuple[int, ...]
    ms: int
