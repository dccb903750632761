"""Liquids and gases as surroundings: each by what it is, and a vapour by its liquid."""

from __future__ import annotations

import pytest

from kb.knowledge import Knowledge
from kb.materials.surrounding import in_state, surrounding


@pytest.mark.parametrize(
    ("item", "exposure", "of"),
    [
        ("acetic-acid", "chemical-immersion", ("acid",)),
        ("nitric-acid", "chemical-immersion", ("acid", "oxidiser")),
        ("sodium-hypochlorite", "chemical-immersion", ("alkali", "oxidiser")),
        ("sodium-hydroxide", "chemical-immersion", ("alkali",)),
        ("hydrogen-peroxide", "chemical-immersion", ("oxidiser",)),
        ("toluene", "solvent-splash", ("aromatic-hydrocarbon",)),
        ("glycol-ether-brake-fluid", "solvent-splash", ("alcohol", "ester")),
        ("hydrogen", "explosive-atmosphere", ()),
        ("acetone", "solvent-splash", ("ketone",)),
    ],
)
def test_what_it_is_decides(item: str, exposure: str, of: tuple[str, ...], knowledge: Knowledge) -> None:
    assert surrounding(knowledge.entry(item), knowledge) == (exposure, of)


@pytest.mark.parametrize("item", ["ozone", "hydrogen-sulfide", "carbon-dioxide", "rosin", "butanone-peroxide"])
def test_of_what_no_grade_tells_nothing_is_said(item: str, knowledge: Knowledge) -> None:
    assert surrounding(knowledge.entry(item), knowledge) is None


def test_a_vapour_is_that_of_a_liquid(knowledge: Knowledge) -> None:
    assert in_state("toluene fumes", knowledge) == ("solvent-splash", ("aromatic-hydrocarbon",))
    assert in_state("brass vapour", knowledge) is None
    assert in_state("vapour", knowledge) is None
