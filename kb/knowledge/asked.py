"""The words by which people ask about things side by side (generic_catalog/asked.toml), laid out for looking up."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any, Literal, Self

from pydantic import Field, model_validator

from kb.base import vocabulary as v
from kb.base.errors import BadInput, nearest
from kb.base.files import read_toml, validated
from kb.base.lexicon import Lexicon, folded, run_of
from kb.base.models import Basis, Id, Strict, Text
from kb.base.surroundings import exposures
from kb.knowledge.packing import pack
from kb.rules.form import WhenTable

Kind = Literal[
    "substrate", "degreaser", "abrasive", "conditioner", "neutraliser", "treatment", "backing", "adhesive", "coating",
    "solder", "flux", "wire", "aid", "substance",
]  # fmt: skip


class ClassTable(Strict):
    """Words for a class of one kind: of some families, of what meets conditions, or of some items."""

    words: tuple[Text, ...] = Field(min_length=1)
    kind: Kind
    families: tuple[str, ...] = ()
    when: tuple[WhenTable, ...] = ()
    items: tuple[Id, ...] = ()
    meant: Literal["", "sooner", "later"] = Field(
        "", description="sooner or later than a thing of another kind that is called so, too, and goes as well there"
    )

    @model_validator(mode="after")
    def _closed(self) -> Self:
        for family in self.families:
            if family not in v.FAMILIES[self.kind]:
                raise ValueError(f"families: '{family}' is no family of {self.kind}")
        if not (self.families or self.when or self.items):
            raise ValueError("give families, when or items: what belongs to the class")
        return self


class OpenTable(Strict):
    """Words that mean too much to be guessed, and what they may mean."""

    words: tuple[Text, ...] = Field(min_length=1)
    among: tuple[Id, ...] = Field(min_length=2)


class WipedTable(Strict):
    """What a finished layer is exposed to where a liquid or gas of some sort meets it, and of which kinds that is."""

    kind: Literal["degreaser", "conditioner", "neutraliser", "substance"]
    when: tuple[WhenTable, ...] = Field(min_length=1)
    exposure: str
    of: tuple[str, ...] = ()
    of_fact: Text | None = None

    @model_validator(mode="after")
    def _closed(self) -> Self:
        if self.exposure not in v.EXPOSURES:
            raise ValueError(f"exposure: '{self.exposure}' is not an exposure")
        if strange := set(self.of) - set(exposures()[self.exposure].kinds):
            raise ValueError(f"of: '{self.exposure}' is of no kind {', '.join(sorted(strange))}")
        return self


class GradedTable(Strict):
    """Words beside the grade of an abrasive, and what is meant where nothing else stands there."""

    words: tuple[Text, ...] = Field(min_length=1)
    alone: Text
    alone_for: tuple[str, ...]


class AskedTable(Strict):
    """The whole file."""

    basis: Basis
    graded: GradedTable
    nouns: dict[Kind, tuple[Text, ...]]
    classes: tuple[ClassTable, ...]
    surfaces: dict[str, tuple[Text, ...]]
    exposures: dict[str, tuple[Text, ...]]
    states: tuple[Text, ...]
    strengths: tuple[Text, ...]
    plain: tuple[Text, ...]
    kinds: dict[str, dict[str, tuple[Text, ...]]]
    heated: dict[str, dict[Text, float]]
    wiped: tuple[WipedTable, ...]
    open: tuple[OpenTable, ...]

    @model_validator(mode="after")
    def _surfaces(self) -> Self:
        if strange := [surface for surface in self.surfaces if surface not in v.SURFACES]:
            raise ValueError(f"surfaces: '{strange[0]}' is not a surface")
        meant: dict[str, str] = {}
        for surface, called in self.surfaces.items():
            for words in (surface, *called):
                if meant.setdefault(folded(words), surface) != surface:
                    raise ValueError(f"surfaces: '{words}' means {meant[folded(words)]} and {surface}")
        return self

    @model_validator(mode="after")
    def _exposures(self) -> Self:
        for name, table in (("exposures", self.exposures), ("heated", self.heated), ("kinds", self.kinds)):
            if strange := [exposure for exposure in table if exposure not in v.EXPOSURES]:
                raise ValueError(f"{name}: '{strange[0]}' is not an exposure")
        for exposure, called in self.kinds.items():
            for kind in set(called) - set(exposures()[exposure].kinds):
                raise ValueError(f"kinds: '{exposure}' is of no kind '{kind}'")
        return self


def load_asked(path: Path, items: Mapping[str, Mapping[str, Any]], words: Mapping[str, Any]) -> dict[str, Any]:
    """Give the classes, and what each run of words may mean: (of what sort, which).

    `items` holds the facts of every item by id, `words` the spellings. BadInput where an item isn't in the catalog.
    """
    shown = f"{path.parent.name}/{path.name}"
    table = validated(AskedTable, read_toml(path, shown), shown)
    lexicon = Lexicon(words)
    runs: dict[str, list[tuple[str, Any]]] = {}
    names: dict[str, str] = {}

    def note(said: tuple[str, ...], meaning: tuple[str, Any]) -> None:
        for name in said:
            run = run_of(lexicon.atoms(name))
            names.setdefault(run, name)
            known = runs.setdefault(run, [])
            if meaning not in known:
                known.append(meaning)

    for item in (i for row in table.classes for i in row.items):
        _known(item, items, shown)
    for number, row in enumerate(table.classes):
        note(row.words, ("class", number))
    for number, asked in enumerate(table.open):
        note(asked.words, ("open", number))
        for item in asked.among:
            _known(item, items, shown)
    for exposure in v.EXPOSURES:
        note((exposure, *table.exposures.get(exposure, ())), ("exposure", (exposure, (), None)))
        for of, called in table.kinds.get(exposure, {}).items():
            note(called, ("exposure", (exposure, (of,), None)))
        for name, at_c in table.heated.get(exposure, {}).items():
            note((name,), ("exposure", (exposure, (), at_c)))
    for kind, families in v.FAMILIES.items():
        for family in families:
            note((family,), ("family", (kind, family)))
    return {
        "classes": tuple(
            (row.words[0], row.kind, row.families, tuple(pack(w.condition()) for w in row.when), row.items, row.meant)
            for row in table.classes
        ),
        "wiped": tuple(
            (row.kind, tuple(pack(w.condition()) for w in row.when), row.exposure, row.of, row.of_fact)
            for row in table.wiped
        ),
        "graded": table.graded.model_dump(),
        "strengths": table.strengths,
        "plain": tuple(atom for word in table.plain for atom in lexicon.atoms(word)),
        "states": tuple(lexicon.atoms(word) for word in table.states),
        "open": tuple((row.words[0], row.among) for row in table.open),
        "runs": {run: tuple(meanings) for run, meanings in runs.items()},
        "names": names,
        "nouns": {kind: tuple(lexicon.atoms(word) for word in nouns) for kind, nouns in table.nouns.items()},
    }


def _known(item: str, items: Mapping[str, Any], where: str) -> None:
    if item not in items:
        raise BadInput(where, f"'{item}' is not in the catalog", nearest(item, items) or "see `tackroom list`")
