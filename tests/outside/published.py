"""Values from outside the project, in published.json: what they are, and how a test states its source.

Each entry has an id, a topic ("1 dew point"), inputs, the expected value with unit and absolute tolerance, the
source, where it was seen, and a kind that says what it is worth:

- `published`: read on the page named;
- `library`: returned by the package named; circular if the project calls the same package;
- `recomputed`: formula and inputs from the source, result calculated: checks arithmetic only;
- `memory-fact`: recalled, to be confirmed.
"""

from __future__ import annotations

import json
from collections.abc import Collection
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import pytest

#: Packages that the program itself calls.
CALLED = ("psychrolib", "biip")


@dataclass(frozen=True)
class Entry:
    """One value from outside, with all that is known of where it comes from."""

    id: str
    topic: str
    inputs: dict[str, Any]
    expected: Any
    unit: str
    tolerance: Any
    source: str
    seen: str
    trust: str
    kind: str
    note: str = ""

    @property
    def number(self) -> int:
        """The topic's number."""
        return int(self.topic.split()[0])

    @property
    def circular(self) -> bool:
        """Whether the project calls the package that the value comes from."""
        return self.kind == "library" and any(package in self.seen for package in CALLED)

    def against(self, got: Any) -> str:
        """What a failing test says: the difference, and the source that it differs from."""
        note = f" ({self.note})" if self.note else ""
        return (
            f"{self.id}: got {got}, expected {self.expected} {self.unit} within {self.tolerance}; "
            f"source: {self.source} [{self.kind}; {self.seen}]{note}"
        )

    def assert_near(self, got: float, part: str | None = None) -> None:
        """`got` lies within the entry's tolerance of what it expects, or of that part of it."""
        expected = self.expected[part] if part else self.expected
        tolerance = self.tolerance[part] if isinstance(self.tolerance, dict) and part else self.tolerance
        assert abs(got - expected) <= tolerance + 1e-12, self.against(got)


@cache
def every_entry() -> tuple[Entry, ...]:
    """All entries, in the file's order."""
    path = Path(__file__).with_name("published.json")
    return tuple(Entry(**fields) for fields in json.loads(path.read_text(encoding="utf-8")))


def entries(topic: int) -> tuple[Entry, ...]:
    """The entries of the topic with that number."""
    return tuple(entry for entry in every_entry() if entry.number == topic)


def entry(entry_id: str) -> Entry:
    """The one entry with that id."""
    return next(e for e in every_entry() if e.id == entry_id)


def cases(topic: int, *prefixes: str, but: Collection[str] = ()) -> list[Any]:
    """Entries of a topic as pytest parameters, by id: those whose id starts with a prefix (all, if none is given)."""
    return [
        pytest.param(e, id=e.id, marks=pytest.mark.circular if e.circular else ())
        for e in entries(topic)
        if e.id not in but and (not prefixes or e.id.startswith(prefixes))
    ]
