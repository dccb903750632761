"""Abrasives by their grade: a number alone is that of every scale, and one that no paper has is told."""

from __future__ import annotations

import pytest

from kb.base.errors import BadInput
from kb.knowledge import Knowledge
from kb.materials.asked import readings


def members(typed: str, knowledge: Knowledge) -> set[str]:
    (found,) = readings(typed, knowledge, "t")
    return {entry.id for entry in found.members}


@pytest.mark.parametrize("typed", ["P400 paper", "p400 grit", "sandpaper P400", "grade P400"])
def test_the_european_scale_is_meant_where_its_letter_stands(typed: str, knowledge: Knowledge) -> None:
    assert members(typed, knowledge) == {"alumina-p400", "silicon-carbide-p400"}


def test_a_number_alone_is_that_of_every_scale(knowledge: Knowledge) -> None:
    all_of_them = {"alumina-p400", "silicon-carbide-p400", "silicon-carbide-cami-400", "silicon-carbide-jis-400"}
    assert members("400 grit", knowledge) == members("sandpaper 400", knowledge) == all_of_them
    assert members("wet and dry 400", knowledge) == all_of_them - {"alumina-p400"}


def test_a_number_that_is_no_grade_leaves_the_words_to_others(knowledge: Knowledge) -> None:
    for typed, kind in (
        ("alumina 96", "substrate"),
        ("6061 aluminium", "substrate"),
        ("304 grade stainless", "substrate"),
    ):
        assert [found.kind for found in readings(typed, knowledge, "t")] == [kind], typed


def test_a_grade_that_no_paper_has_is_told_with_those_that_are_there(knowledge: Knowledge) -> None:
    with pytest.raises(BadInput, match=r"'150 grit': none of that grade is known; write one of: .*P180"):
        readings("150 grit", knowledge, "t")


def test_the_name_of_an_item_counts_before_its_parts(knowledge: Knowledge) -> None:
    assert members("SiC 320 CAMI", knowledge) == {"silicon-carbide-cami-320"}
