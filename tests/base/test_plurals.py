"""Plurals: one law for the names of the catalog, for classes, and for short forms."""

from __future__ import annotations

import pytest

from kb.base.lexicon import Lexicon
from kb.base.plurals import numbers, singulars


@pytest.mark.parametrize(
    ("several", "one"),
    [
        ("woods", "wood"),
        ("brasses", "brass"),
        ("waxes", "wax"),
        ("brushes", "brush"),
        ("putties", "putty"),
        ("adhesives", "adhesive"),
        ("pcbs", "pcb"),
    ],
)
def test_a_plural_is_read_as_its_singular_first(several: str, one: str) -> None:
    assert next(singulars(several)) == one


@pytest.mark.parametrize("word", ["gas", "abs", "brass", "stainless", "304s", "wood", "s"])
def test_what_is_no_plural_stays_as_it_is(word: str) -> None:
    assert list(singulars(word)) == []


def test_a_word_is_itself_before_it_is_any_other_number() -> None:
    assert list(numbers("glass")) == ["glass", "glasss"]
    assert list(numbers("ties")) == ["ties", "ty", "tie", "tiess"]


def test_short_forms_keep_the_same_law() -> None:
    lexicon = Lexicon({"spellings": {"pcb": "laminate", "ga": "gallium", "box": "housing"}})
    assert [lexicon.atoms(word) for word in ("PCBs", "gas", "boxes")] == [("laminate",), ("gas",), ("housing",)]
