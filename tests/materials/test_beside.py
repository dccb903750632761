"""What `identify` offers beyond the materials of parts: anything in the catalog, where no material is near."""

from __future__ import annotations

import pytest

from kb.knowledge import Knowledge
from kb.materials.beside import anything, named_so
from kb.materials.identify import SEEN
from kb.report.items import matches_json, matches_text


@pytest.mark.parametrize(
    ("typed", "kinds"),
    [
        ("acetone", {"degreaser"}),
        ("super glue", {"adhesive"}),
        ("400 grit paper", {"abrasive"}),
        ("cotton swab", {"aid"}),
        ("bleach", {"substance"}),
        ("isopropil alcohol", {"degreaser"}),
        ("strain gauge", {"backing"}),
    ],
)
def test_what_is_no_material_is_offered_all_the_same(typed: str, kinds: set[str], knowledge: Knowledge) -> None:
    matches, found = anything(typed, knowledge)
    assert found is None
    assert {match.entry.kind for match in matches} == kinds
    assert "is no material of a part" in " ".join(matches_text(typed, matches).split())


def test_materials_of_parts_go_before_all_else(knowledge: Knowledge) -> None:
    assert {match.entry.kind for match in anything("PTFE", knowledge)[0]} == {"substrate"}
    assert anything("mild steel", knowledge)[0][0].entry.id == "carbon-steel"


def test_only_one_that_is_meant_for_sure_is_taken(knowledge: Knowledge) -> None:
    taken = {typed: matches_json(typed, *anything(typed, knowledge))["taken"] for typed in ("IPA", "super glue")}
    assert taken == {"IPA": "isopropyl-alcohol", "super glue": None}


def test_nothing_is_offered_that_nobody_would_see_in_the_words(knowledge: Knowledge) -> None:
    assert anything("qwxzv", knowledge) == ([], None)
    assert all(match.score >= SEEN for match in named_so("isopropil", knowledge))


def test_what_is_called_just_so_is_offered_before_a_material_that_is_like_it(knowledge: Knowledge) -> None:
    """A PTFE wire is a wire; who writes it as the part has a wire of PTFE."""
    matches, found = anything("PTFE wire", knowledge)
    assert [match.entry.id for match in matches[:2]] == ["ptfe-wire-silver-plated", "ptfe"]
    assert matches_json("PTFE wire", matches, found)["taken"] == "ptfe"
