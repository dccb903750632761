"""What the label words say of a chain's materials: hazard statements, substance by substance."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from kb.engine.chain import Chain
from kb.knowledge import Entry, Knowledge


@dataclass(frozen=True, slots=True)
class Statement:
    """A code and its words; without words where the list lacks the code."""

    code: str
    words: str


@dataclass(frozen=True, slots=True)
class Part:
    """One substance of a material: its share by mass where that is known, and the statements of the pure substance."""

    name: str
    share_pct: float | None
    statements: tuple[Statement, ...]


@dataclass(frozen=True, slots=True)
class Hazards:
    """One material of the chain: its hazards in a word each, and its substances."""

    name: str
    words: tuple[str, ...]
    parts: tuple[Part, ...]


@cache
def wording() -> Mapping[str, Any]:
    """The list of statements: `basis`, `source`, and `statements` by code."""
    from kb.base.places import shipped

    path = shipped()[1] / "hazard_statements.toml"
    return tomllib.loads(path.read_text(encoding="utf-8"))


def hazards_of(chain: Chain, knowledge: Knowledge) -> list[Hazards]:
    """The materials of `chain` in the order in which they are used, each once."""
    entries = {option.entry.id: option.entry for option in chain.picks if option.entry is not None}
    return [hazards_in(entry, knowledge) for entry in entries.values()]


def hazards_in(entry: Entry, knowledge: Knowledge) -> Hazards:
    """What the label words say of one material."""
    shares = {row["substance"]: row["share_pct"] for row in entry.facts.get("composition", ())}
    ids = dict.fromkeys((*shares, *entry.facts.get("substances", ())))
    substances = [knowledge.entries[i] for i in ids if i in knowledge.entries]
    return Hazards(
        entry.name,
        tuple(entry.facts.get("hazards", ())),
        tuple(Part(s.name, shares.get(s.id), _statements(s)) for s in substances),
    )


def _statements(substance: Entry) -> tuple[Statement, ...]:
    said = wording()["statements"]
    return tuple(Statement(code, said.get(code, "")) for code in substance.facts.get("hazard_statements", ()))
