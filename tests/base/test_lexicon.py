"""Typed words as comparable ones: every class of words in a small lexicon."""

from __future__ import annotations

import pytest

from kb.base.lexicon import Lexicon, folded, squeezed

TABLE = {
    "fillers": ["of"],
    "systems": ["en"],
    "forms": ["rod"],
    "finishes": ["bright"],
    "opposites": ["un"],
    "distinct": ["ide"],
    "ignored": [r"\d+/\d+", r"\b\d+ ?mm\b", r"(?<=\d{4})[ -]*t\d+"],
    "endings": {"ized": "ised"},
    "parts": {"aluminum": "aluminium"},
    "spellings": {"al": "aluminium", "ss": "stainless steel", "pmma": "acrylic", "acrylic": "glass"},
    "runs": {"grade 2": "grade-two"},
    "translations": {"verzinkt": "galvanised", "lack": "paint"},
    "inflections": ["er", "es"],
}


@pytest.mark.parametrize(
    ("typed", "atoms"),
    [
        ("Rod of AL", ("rod", "aluminium")),
        ("EN 6061-T651", ("6061",)),
        ("verzinkter verzinktes lacker", ("galvanised", "galvanised", "lacker")),
        ("galvanized aluminum", ("galvanised", "aluminium")),
        ("1/4 rod", ("rod",)),
        ("Grauguß", ("grauguss",)),
        ("PMMA", ("acrylic",)),
        ("SS304", ("stainless", "steel", "304")),
        ("polyamide 6.6, 12 mm", ("polyamide", "6.6")),
        ("Titanium Grade 2", ("titanium", "grade-two")),
        ("upgrade 2", ("upgrade", "2")),
        ("Äther", ("ather",)),
        ("", ()),
    ],
)
def test_words_become_atoms(typed: str, atoms: tuple[str, ...]) -> None:
    assert Lexicon(TABLE).atoms(typed) == atoms


def test_an_empty_table_changes_nothing_but_case() -> None:
    lexicon = Lexicon({})
    assert lexicon.atoms("6061-T651 of Al") == ("6061", "t", "651", "of", "al")
    assert not any((lexicon.forms, lexicon.finishes, lexicon.opposites, lexicon.distinct))


def test_the_classes_of_words_are_the_tables() -> None:
    lexicon = Lexicon(TABLE)
    assert (set(lexicon.forms), set(lexicon.finishes)) == ({"rod"}, {"bright"})
    assert (lexicon.opposites, lexicon.distinct) == (("un",), ("ide",))


def test_folding_keeps_points_and_percents() -> None:
    assert folded("Glass-filled  PA6.6 (30%)") == "glass filled pa6.6 30%"
    assert folded("Glass-Filled", keep=True) == "glass-filled"


def test_blanks_and_points_tell_nothing_apart() -> None:
    assert squeezed(("pa", "6.6")) == squeezed(("p", "a", "66")) == "pa66"
