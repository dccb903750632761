"""The known materials that are nearest to another in the facts that rules read, and what differs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from kb.knowledge import Entry, Knowledge


@dataclass(frozen=True, slots=True)
class Relative:
    """A catalogued material, and how much of the `compared` facts of another it shares (0 to 1)."""

    entry: Entry
    likeness: float
    compared: int
    #: (fact, value of the other, value of this one)
    differs: tuple[tuple[str, Any, Any], ...]


def relatives(entry: Entry, knowledge: Knowledge, most: int = 3) -> list[Relative]:
    """Give the catalogued materials most like `entry` in the facts that rules read, nearest first.

    Words and yes-or-no facts are alike or not; figures by their ratio.
    """
    read = [*knowledge.tables["lookup"]["read"]["substrate"], "family", "magnetic"]
    names = [name for name in dict.fromkeys(read) if name in entry.facts and not name.startswith("hansen.dph")]
    found = []
    for other in knowledge.by_kind["substrate"]:
        shared = [(name, likeness(entry.facts[name], other.facts[name])) for name in names if name in other.facts]
        if shared:
            differs = tuple((n, entry.facts[n], other.facts[n]) for n, like in shared if like < 1)
            found.append(Relative(other, sum(like for _, like in shared) / len(names), len(names), differs))
    return sorted(found, key=lambda r: (-r.likeness, r.entry.id))[:most]


def likeness(one: Any, other: Any) -> float:
    """Tell how alike two values of a fact are, 0 to 1: figures by their ratio, lists by what they share.

    >>> likeness(70.0, 35.0), likeness("soft", "hard"), likeness(("a", "b"), ("b",)), likeness(True, True)
    (0.5, 0.0, 0.5, 1.0)
    """
    if isinstance(one, tuple) and isinstance(other, tuple):
        return len({*one} & {*other}) / len({*one} | {*other}) if one or other else 1.0
    figures = [v for v in (one, other) if isinstance(v, (int, float)) and not isinstance(v, bool)]
    if len(figures) == 2 and min(figures) > 0:
        return float(min(figures) / max(figures))
    return float(one == other)
