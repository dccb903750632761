"""The same question with a fact changed: what the changed catalog would answer, and what was changed is said."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from kb.base.errors import BadInput
from kb.cli.program import program
from kb.engine.plan import Engine
from kb.job import job_of
from kb.planning.ask import ask
from kb.planning.supposed import suppose

JOB = job_of({"part": {"substrate": "aluminium-6061"}, "service": {"temperature_c": [10, 60]}}, "a job")


def _first(asked: object) -> str:
    return asked.chain().coatings[0].id  # type: ignore[attr-defined, no-any-return]


def test_a_first_chain_gives_way_where_its_lacquer_is_said_to_be_slow(engine: Engine) -> None:
    coat = _first(ask(engine, JOB, "a job"))
    asked = ask(engine, JOB, "a job", settings=[f"{coat}.full_cure_min=2000 h"])
    assert _first(asked) != coat
    (fact,) = asked.supposed
    assert (fact.fact, fact.value) == (f"{coat}.full_cure_min", 120_000.0)
    assert any(note.startswith(f"Asked with {coat}.full_cure_min = 120000") for note in asked.plan.notes)


def test_what_is_supposed_of_an_item_that_no_chain_uses_changes_no_chain(engine: Engine) -> None:
    before = ask(engine, JOB, "a job").plan
    after = ask(engine, JOB, "a job", settings=["polycarbonate.max_temperature_c=41"]).plan
    assert [chain.key for chain in after.chains] == [chain.key for chain in before.chains]
    assert [chain.cost for chain in after.chains] == [chain.cost for chain in before.chains]


def test_the_part_may_be_told_of_whatever_it_is(engine: Engine) -> None:
    for given in ("aluminium-6061", "steel", {"like": "peek"}):
        job = JOB.model_copy(update={"part": JOB.part.model_copy(update={"substrate": given})})
        found = suppose(engine.knowledge, job, ["substrate.max_temperature_c=41"], "--set")
        assert found.part is not None
        assert found.part.entry.facts["max_temperature_c"] == 41.0
        assert ask(engine, job, "a job", settings=["substrate.max_temperature_c=41"]).supposed


def test_the_later_of_two_counts(engine: Engine) -> None:
    found = suppose(engine.knowledge, JOB, ["acetone.flash_point_c=-5", "acetone.flash_point_c=-6"], "--set")
    assert [fact.value for fact in found.facts] == [-6.0]
    assert found.knowledge.entry("acetone").facts["flash_point_c"] == -6.0


@pytest.mark.parametrize(
    ("setting", "said"),
    [
        ("acetone", "is not ITEM.FIELD=VALUE"),
        ("acetone=3", "is not ITEM.FIELD=VALUE"),
        ("acetonne.flash_point_c=3", "acetone"),
        ("qqqzzz.flash_point_c=3", "is no item that is known"),
        ("acetone.flashpoint=3", "did you mean 'flash_point_c'?"),
        ("acetone.flash_point_c=hot", "flash_point_c"),
    ],
)
def test_a_bad_one_is_refused_with_what_is_near(engine: Engine, setting: str, said: str) -> None:
    with pytest.raises(BadInput, match=r"^--set: ") as refused:
        suppose(engine.knowledge, JOB, [setting], "--set")
    assert said in str(refused.value)


def test_the_answer_for_a_program_says_which_were_set(tmp_path: Path) -> None:
    file = tmp_path / "job.toml"
    file.write_text('[part]\nsubstrate = "aluminium-6061"\n[service]\ntemperature_c = [10, 60]\n')
    args = ["plan", str(file), "--json", "--set", "acetone.flash_point_c=-5"]
    document = json.loads(CliRunner().invoke(program(args), args).stdout)
    (row,) = document["set"]
    assert row["fact"] == "acetone.flash_point_c"
    assert row["to"] == -5.0
    assert json.loads(CliRunner().invoke(program(args), args[:3]).stdout)["set"] == []
