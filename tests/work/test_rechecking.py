"""Earlier choices and records against today's knowledge: first still, behind, refused and by what, or gone."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from kb.cli.program import program
from kb.engine.plan import Engine
from kb.job import Job, job_of
from kb.knowledge.changed import with_values
from kb.planning.ask import ask
from kb.report.rechecking import recheck_json, recheck_text
from kb.rules.values import Told
from kb.work.rechecking import Rechecked, recheck


def _job(**choose: object) -> Job:
    data = {"job": {"name": "J"}, "part": {"substrate": "aluminium-6061"}, "service": {"temperature_c": [10, 60]}}
    return job_of({**data, **({"choose": choose} if choose else {})}, "a job")


def _recorded(engine: Engine, chain: dict[str, str]) -> Rechecked:
    (found,) = recheck(engine, _job(), "a job", [{"id": 7, "type": "installed", "job": "J", "chain": chain}])
    return found


@pytest.fixture(scope="module")
def chains(engine: Engine) -> list[dict[str, str]]:
    return [chain.named for chain in ask(engine, _job(), "a job", 1).plan.chains]


def test_the_first_chain_is_first_still_and_a_later_one_is_behind(engine: Engine, chains: list[dict[str, str]]) -> None:
    assert _recorded(engine, chains[0]).verdict == "first"
    dearer = ask(engine, _job(coatings=["silicone-addition-cure-gel"]), "a job", 1).chain()
    later = _recorded(engine, dearer.named)
    assert (later.verdict, later.of) == ("behind", "record 7")
    assert later.behind > 0
    assert later.first is not None


def test_a_chain_that_a_changed_value_closes_is_refused_by_that_rule(
    engine: Engine, chains: list[dict[str, str]]
) -> None:
    coat = chains[0]["coating_1"]
    told = [Told("max_c", 30.0, "dataset"), Told("short_max_c", 30.0, "dataset")]
    cold = Engine(with_values(engine.knowledge, {coat: told}))
    found = _recorded(cold, chains[0])
    assert found.verdict == "refused"
    assert any(coat in finding.about for finding in found.findings)
    assert "REFUSED now" in recheck_text([found])
    assert recheck_json([found])["chains"][0]["findings"]


def test_an_item_that_is_gone_is_named(engine: Engine, chains: list[dict[str, str]]) -> None:
    found = _recorded(engine, {**chains[0], "adhesive": "no-longer-there"})
    assert (found.verdict, found.missing) == ("unknown-item", ("no-longer-there",))
    assert _recorded(engine, {**chains[0], "cure": "gone"}).verdict == "unknown-item"


def test_what_a_job_chose_is_looked_at_and_the_same_chain_only_once(
    engine: Engine, chains: list[dict[str, str]]
) -> None:
    coat = chains[0]["coating_1"]
    record = {"id": 7, "type": "installed", "job": "J", "chain": chains[0]}
    other = {**record, "id": 9, "job": "another"}
    found = recheck(engine, _job(coatings=[coat]), "a job", [record, {**record, "id": 8}, other])
    assert [one.of for one in found] == ["chosen", "record 7"]
    assert found[0].verdict == "first"


def test_the_command_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TACKROOM_WORKSPACE", str(tmp_path))
    job = tmp_path / "job.toml"
    job.write_text(
        '[part]\nsubstrate = "aluminium-6061"\n[service]\ntemperature_c = [10, 200]\n'
        '[choose]\ncoatings = ["acrylic-lacquer-alcohol-borne"]\n'
    )
    words = ["recheck", str(job), "--json"]
    done = CliRunner().invoke(program(words), words)
    assert done.exit_code == 1
    (row,) = json.loads(done.stdout)["chains"]
    assert row["verdict"] == "refused"
    assert any("acrylic-lacquer-alcohol-borne" in finding["about"] for finding in row["findings"])
    job.write_text('[part]\nsubstrate = "aluminium-6061"\n[service]\ntemperature_c = [10, 60]\n')
    assert "nothing to look at" in CliRunner().invoke(program(words[:2]), words[:2]).output
