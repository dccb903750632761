"""The points that a lab's rules once had, as the levels that now stand for them."""

from __future__ import annotations

#: By verdict: up to so many points (inclusive), which level; generic_catalog/levels.toml says what each means.
_LEVELS: dict[str, tuple[tuple[int, str], ...]] = {
    "prefer": (
        (0, "free"),
        (15, "habit"),
        (25, "custom"),
        (40, "advantage"),
        (1000, "strong-advantage"),
    ),
    "caution": (
        (0, "free"),
        (5, "remark"),
        (15, "reminder"),
        (30, "care"),
        (45, "nuisance"),
        (70, "doubt"),
        (120, "serious-doubt"),
        (180, "reading-at-risk"),
        (400, "bond-at-risk"),
        (1000, "last-resort"),
    ),
}


def level_of(verdict: str, weight: int) -> str:
    """Name the level that stands for so many points of a rule.

    >>> level_of("caution", 60), level_of("prefer", 60)
    ('doubt', 'strong-advantage')
    """
    return next(level for most, level in _LEVELS.get(verdict, _LEVELS["caution"]) if weight <= most)
