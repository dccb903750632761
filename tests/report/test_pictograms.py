"""Pictograms of hazard statements: every statement has its own or is known to have none; each is drawn with a word."""

from __future__ import annotations

import xml.etree.ElementTree as ET

from kb.report.hazards import wording
from kb.report.pictures.pictograms import pictograms

#: Statements of the worldwide system that go with no pictogram.
NONE = {"H221", "H229", "H362", "H412", "H413"}


def test_every_statement_has_its_pictogram_or_is_known_to_have_none() -> None:
    known = {code for code in wording()["statements"] if not code.startswith("EUH")}
    assert {code for code in known if not pictograms([code])} == NONE
    assert {code for row in wording()["pictograms"] for code in row["statements"]} == known - NONE


def test_each_is_shown_once_in_the_order_of_the_table_with_a_word() -> None:
    found = pictograms(["H319", "H225", "H336", "EUH066"])
    assert [one.id for one in found] == ["flame", "exclamation-mark"]
    assert pictograms(["H412", "EUH066"]) == []
    for one in found:
        assert ET.fromstring(one.svg).get("aria-label") == f"Pictogram: {one.says}"


def test_each_is_drawn_as_itself() -> None:
    drawings = [one.svg for one in pictograms(wording()["statements"])]
    assert len({svg.split("/>", 1)[1] for svg in drawings}) == len(wording()["pictograms"]) == 9
