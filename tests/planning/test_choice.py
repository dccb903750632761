"""A choice is kept in the job: every plan follows it, says so, and says what would come first without it."""

from __future__ import annotations

import datetime
from typing import Any

import pytest

from kb.base.errors import BadInput
from kb.engine.plan import Engine
from kb.job import job_of
from kb.planning.ask import Asked, ask
from kb.planning.choice import choice_of
from tests.quantities.jobs import BRACKET

DAY = datetime.date(2027, 3, 1)


def asked(engine: Engine, **choose: Any) -> Asked:
    return ask(engine, job_of({**BRACKET, "choose": choose}, "job"), "job", top=5)


@pytest.mark.parametrize("rank", [1, 2, 4])
def test_what_is_written_down_of_a_chain_plans_that_chain(rank: int, engine: Engine) -> None:
    chain = asked(engine).chain(rank)
    table = choice_of(chain, engine.knowledge, DAY)
    again = asked(engine, **table)
    for name in ("adhesive", "backing", "treatment"):
        assert again.chain().pick(name).id == chain.pick(name).id
    assert again.chain().cure == chain.cure
    assert [coat.id for coat in again.chain().coatings] == [coat.id for coat in chain.coatings]


def test_every_chain_keeps_a_choice_by_family_name_or_id(engine: Engine) -> None:
    found = asked(
        engine, adhesive="epoxy-room-cure", backing=["polyimide-film-25um"], coatings=["acrylic-lacquer"]
    ).plan
    assert len(found.chains) == 5
    for chain in found.chains:
        assert chain.pick("adhesive").entry.family == "epoxy-room-cure"  # type: ignore[union-attr]
        assert chain.pick("backing").id == "polyimide-film-25um"
        assert [coat.family for coat in chain.coatings] == ["acrylic-lacquer"]
    refused = {entry.id: {f.rule.id for f in findings} for entry, findings in found.excluded}
    assert "chosen-adhesive" in refused["ethyl-cyanoacrylate-low-viscosity"]
    assert any("Without the choice" in note for note in found.notes)


def test_a_choice_that_is_first_anyhow_is_said_and_no_more(engine: Engine) -> None:
    free = asked(engine)
    kept = asked(engine, **choice_of(free.chain(), engine.knowledge, DAY))
    assert [note for note in kept.plan.notes if "2027-03-01" in note]
    assert not [note for note in kept.plan.notes if "Without the choice" in note]


def test_a_choice_from_other_knowledge_says_that_it_changed(engine: Engine) -> None:
    table = choice_of(asked(engine).chain(2), engine.knowledge, DAY) | {"knowledge": "0" * 16}
    assert any("has changed since" in note for note in asked(engine, **table).plan.notes)


def test_a_choice_that_can_not_be_is_a_conflict_of_the_job(engine: Engine) -> None:
    job = job_of({**BRACKET, "choose": {"adhesive": "zircon-ceramic-cement", "backing": "polyimide-film"}}, "job")
    found = ask(engine, job, "job")
    assert not found.plan.chains
    assert found.trouble is not None
    fields = {requirement.field for requirement in found.trouble.conflict}
    assert fields == {"choose.adhesive", "choose.backing"}


@pytest.mark.parametrize(
    ("choose", "said"),
    [
        ({"adhesive": "porridge"}, "choose.adhesive"),
        ({"coatings": ["microcrystalline-wax", "phlogiston"]}, "choose.coatings"),
        ({"cure": "room"}, "without its adhesive"),
        ({"adhesive": "epoxy-room-cure-two-part", "cure": "lukewarm"}, "no cure 'lukewarm'"),
        ({"coatings": ["a", "b", "c", "d"]}, "4 coats are more"),
        ({"prefer": "beauty"}, "'beauty' is not a preference"),
        ({"stock": True}, "there is no shelf"),
    ],
)
def test_a_choice_that_can_not_be_read_is_one_line(choose: dict[str, Any], said: str, engine: Engine) -> None:
    with pytest.raises(BadInput) as fault:
        asked(engine, **choose)
    assert said in str(fault.value)
    assert "\n" not in str(fault.value)
