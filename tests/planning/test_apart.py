"""A choice whose parts don't go together is told by which rule, and no other choice is told so."""

from __future__ import annotations

from typing import Any

import pytest

from kb.engine.plan import Engine
from kb.job import job_of
from kb.planning.ask import ask
from tests.quantities.jobs import BRACKET


def notes(engine: Engine, words: str = "doesn't go together", **choose: Any) -> list[str]:
    found = ask(engine, job_of({**BRACKET, "choose": choose}, "job"), "job", top=1).plan.notes
    return [note for note in found if words in note]


@pytest.mark.parametrize(
    "coats",
    [
        ["microcrystalline-wax", "foil-faced-butyl"],
        ["microcrystalline-wax-soft", "foil-faced-butyl-aluminium"],
    ],
)
def test_two_coats_of_which_none_holds_on_the_other(engine: Engine, coats: list[str]) -> None:
    (note,) = notes(engine, coatings=coats)
    assert "butyl tape faced with aluminium foil does not hold on microcrystalline wax" in note


def test_what_goes_together_is_told_nothing(engine: Engine) -> None:
    assert notes(engine, coatings=["polyurethane-lacquer", "butyl-mastic"]) == []


def test_a_family_of_which_one_member_holds_keeps_nothing_apart(engine: Engine) -> None:
    """No chain, for another reason: that the choice is at fault is not said."""
    hot = {**BRACKET, "service": {**BRACKET["service"], "temperature_c": [20, 500]}}
    job = job_of({**hot, "choose": {"coatings": ["polyurethane-lacquer", "butyl-mastic"]}}, "job")
    found = ask(engine, job, "job", top=1).plan
    assert not found.chains
    assert not [note for note in found.notes if "doesn't go together" in note]


def test_an_item_that_a_rule_refuses_for_this_part(engine: Engine) -> None:
    (note,) = notes(engine, "isn't for this job", treatment="sodium-naphthalene-etch")
    assert "is not for" in note
