"""What is clear is taken, and what isn't comes back as a question that names what is near."""

from __future__ import annotations

import pytest

from kb.base.errors import BadInput
from kb.knowledge import Knowledge
from kb.materials.identify import identify
from kb.materials.meant import agreeing, meant, refuse_within


def test_a_misspelling_of_one_thing_is_taken(knowledge: Knowledge) -> None:
    matches = identify("isopropyl alchohol", knowledge, ("degreaser",))
    assert meant(matches, "isopropyl alchohol", "t", "degreaser").entry.id == "isopropyl-alcohol"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("xyzzy", "'xyzzy' is no substrate that is known; see `tackroom list substrate`, or let `tackroom describe`"),
        ("board", "'board' may mean several things; write one of: solder-masked-board (78), "),
    ],
)
def test_what_is_not_clear_comes_back(words: str, said: str, knowledge: Knowledge) -> None:
    with pytest.raises(BadInput) as fault:
        meant(identify(words, knowledge, ("substrate",)), words, "part.substrate", "substrate")
    assert said in str(fault.value)


@pytest.mark.parametrize(("populated", "item"), [(True, "solder-masked-board"), (False, "solder-masked-board-bare")])
def test_what_the_job_says_of_its_part_settles_which_board_it_is(
    populated: bool, item: str, knowledge: Knowledge
) -> None:
    matches = identify("solder mask on FR-4", knowledge, ("substrate",))
    agreed = agreeing({"populated": populated}, matches, knowledge)
    assert [match.entry.id for match in agreed] == [item]
    assert agreeing({}, matches, knowledge) == matches


def test_a_word_that_belongs_to_the_surface_is_told_where_it_goes(knowledge: Knowledge) -> None:
    with pytest.raises(BadInput, match=r"'greasy' belongs to part\.surface"):
        refuse_within("greasy thingummy", knowledge, "part.substrate")
    refuse_within("thingummy", knowledge, "part.substrate")
