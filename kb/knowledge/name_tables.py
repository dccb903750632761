"""What the tables of names hold: words and what they mean, classes, and what items are looked up by.

Read for types alone, like kb.knowledge.tables.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

# Not from typing: in Python 3.11 only these can be checked against the values, which a test does.
from typing_extensions import NotRequired, TypedDict  # noqa: UP035

from kb.rules.clauses import Facts


class ClassRow(TypedDict):
    """A class of materials: what it is called, and which of a family belong to it."""

    words: Sequence[str]
    family: str
    only: NotRequired[Sequence[str]]
    without: NotRequired[Sequence[str]]
    #: What it may be though nobody means it by these words, and is more dangerous.
    looks_like: NotRequired[Sequence[str]]
    #: The member that people mean where they say no more.
    ordinary: NotRequired[str]


class SeveralRow(TypedDict):
    """A short name that several things share."""

    words: Sequence[str]
    may_be: Sequence[str]


class WordsTable(TypedDict):
    """generic_catalog/words.toml, and of designations.toml all but the designations of items"""

    basis: NotRequired[str]
    fillers: Sequence[str]
    systems: Sequence[str]
    forms: Sequence[str]
    finishes: Sequence[str]
    lies_on_it: Sequence[str]
    opposites: Sequence[str]
    distinct: Sequence[str]
    ignored: Sequence[str]
    endings: Mapping[str, str]
    parts: Mapping[str, str]
    spellings: Mapping[str, str]
    runs: Mapping[str, str]
    classes: Sequence[ClassRow]
    several: Sequence[SeveralRow]
    cautious: Mapping[str, Sequence[str]]
    #: Answers of a job to facts of its material: field, answer, fact, values.
    settles: Mapping[str, Mapping[str, Facts]]
    linking: Sequence[str]
    inflections: Sequence[str]
    shifting: Sequence[str]
    compounds: Sequence[str]
    translations: Mapping[str, str]
    standards: Sequence[str]
    conditions: Sequence[str]
    confusions: Sequence[Sequence[str]]
    rewrites: Sequence[Sequence[str]]
    families_of: Mapping[str, Sequence[str]]
    #: Rows of a `pattern`, and the `class` that an unknown designation of that system is of.
    belongs: Sequence[Mapping[str, str]]


class ClassMeant(ClassRow):
    """A class or family as it is looked up: of which kind, its names as atoms, and whether it is a family."""

    kind: str
    atoms: tuple[tuple[str, ...], ...]
    of: NotRequired[str]


class NamesTable(TypedDict):
    """Items, what several share, classes and families by what they are called; and packed a `LikenessTable`."""

    runs: Mapping[str, tuple[str, ...]]
    several: Mapping[str, tuple[str, ...]]
    classes: tuple[ClassMeant, ...]
    families: Mapping[str, tuple[str, ...]]
    packed: bytes


class ToldApart(TypedDict):
    """What rules tell items apart by: facts by kind, and the ids that a rule names."""

    read: Mapping[str, tuple[str, ...]]
    singled: tuple[str, ...]


class LookupTable(NamesTable, ToldApart):
    """What names and rules tell items apart by (kb.knowledge.lookup), and what may be known of a substrate."""

    of_substrates: tuple[str, ...]


class LikenessTable(TypedDict):
    """The names of items as atoms, and the items by atom."""

    names: Mapping[str, tuple[tuple[str, ...], ...]]
    atoms: Mapping[str, tuple[str, ...]]
