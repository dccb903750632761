"""Say what a chain's materials do to people: the mixture's statements, what it is made of, and what it gives off."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from kb.engine.chain import Chain
from kb.knowledge import Entry, Knowledge


@dataclass(frozen=True, slots=True)
class Statement:
    """A code and its words, without words where the list lacks the code; whose it is, and a remark."""

    code: str
    words: str
    of: tuple[str, ...] = ()
    note: str = ""


@dataclass(frozen=True, slots=True)
class Part:
    """One substance of a material: its share by mass, which bottle it is in (0: the only one), and its statements."""

    name: str
    share_pct: float
    bottle: int
    statements: tuple[Statement, ...]


@dataclass(frozen=True, slots=True)
class Hazards:
    """One material of the chain: its hazards in a word each, its statements, its make-up, and its vapours."""

    item: str
    name: str
    words: tuple[str, ...]
    statements: tuple[Statement, ...]
    parts: tuple[Part, ...]
    gives_off: tuple[tuple[str, float], ...]
    restricted: tuple[str, ...]
    own: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Dust:
    """What the dust of a part holds: its statements, and its limits in a phrase each."""

    name: str
    statements: tuple[Statement, ...]
    limits: tuple[str, ...]


@cache
def wording() -> Mapping[str, Any]:
    """Give the list of statements: `basis`, `source`, and `statements` by code."""
    from kb.base.places import shipped

    path = shipped()[1] / "hazard_statements.toml"
    return tomllib.loads(path.read_text(encoding="utf-8"))


def hazards_of(chain: Chain, knowledge: Knowledge) -> list[Hazards]:
    """Give the materials of `chain` in the order in which they are used, each once."""
    entries = {option.entry.id: option.entry for option in chain.picks if option.entry is not None}
    return [hazards_in(entry, knowledge) for entry in entries.values()]


def hazards_in(entry: Entry, knowledge: Knowledge) -> Hazards:
    """Tell what follows from the composition of one material, and what it says of itself."""
    facts = entry.facts
    made_of = facts.get("composition", ())
    bottled = any(share["part"] != 1 for share in made_of)
    return Hazards(
        item=entry.id,
        name=entry.name,
        words=tuple(facts.get("hazards", ())),
        statements=tuple(_of_substance(entry) if entry.kind == "substance" else _of_mixture(entry, knowledge)),
        parts=tuple(
            Part(part.name, share["share_pct"], share["part"] if bottled else 0, tuple(_of_substance(part)))
            for share in made_of
            if (part := knowledge.entries.get(share["substance"])) is not None
        ),
        gives_off=tuple(
            (knowledge.entries[share["substance"]].name, share["share_pct"])
            for share in facts.get("vapours", ())
            if share["substance"] in knowledge.entries
        ),
        restricted=tuple(facts.get("restricted", ())),
        own={path.partition(".")[2]: why for path, why in facts.items() if path.startswith("own_hazards.")},
    )


def dust_of(part: Mapping[str, Any], knowledge: Knowledge) -> list[Dust]:
    """Tell what abrading a part with these facts puts into the air."""
    words = set(part.get("dust_hazard", ()))
    return [
        Dust(entry.name, tuple(_of_substance(entry)), tuple(_limits(entry)))
        for entry in knowledge.by_kind.get("substance", ())
        if words & set(entry.facts.get("dust_of", ()))
    ]


def _of_mixture(entry: Entry, knowledge: Knowledge) -> Iterator[Statement]:
    """Give the statements of a mixture with the constituents that they come from."""
    whose: dict[str, dict[str, None]] = {}
    for row in entry.facts.get("hazard_because", ()):
        whose.setdefault(row["statement"], {}).update(dict.fromkeys(row["of"]))
    for code, ids in sorted(whose.items()):
        names = tuple(knowledge.entries[i].name if i in knowledge.entries else i for i in ids)
        yield Statement(code, _words(code), names)


def _of_substance(entry: Entry) -> Iterator[Statement]:
    """Give the statements of a pure substance, with what no harmonised entry gives and from when a code applies."""
    for code in entry.facts.get("hazard_statements", ()):
        notes = ["self-classified"] if code in entry.facts.get("self_classified", ()) else []
        if (day := entry.facts.get(f"applies_from.{code}")) is not None:
            notes.append(f"applies from {day}")
        yield Statement(code, _words(code), (), ", ".join(notes))


def _words(code: str) -> str:
    return str(wording()["statements"].get(code, ""))


def _limits(entry: Entry) -> Iterator[str]:
    for row in entry.facts.get("limits", ()):
        figure = next(
            f"{row[name]:g} {unit}"
            for name, unit in (("mg_m3", "mg/m3"), ("ppm", "ppm"), ("fibres_cm3", "fibres/cm3"))
            if row.get(name) is not None
        )
        fraction = f" {row['fraction']}" if row.get("fraction") else ""
        yield f"{figure}{fraction} ({row['list']}, {row['kind']}, as of {row['as_of']})"
