"""The command line as a user meets it: exit status, one line for each fault, the same bytes each time."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

JOB = """
[part]
substrate = "brass"
[service]
temperature_c = [10, 60]
"""


def run(*arguments: str, cwd: Path | None = None, **env: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "kb", *arguments],
        capture_output=True,
        text=True,
        cwd=cwd,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parent.parent), **env},
        check=False,
    )


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = tmp_path / "job.toml"
    path.write_text(JOB)
    return path


def test_two_runs_give_the_same_bytes(job: Path) -> None:
    for extra in ([], ["--json"]):
        first, second = (run("plan", str(job), *extra, PYTHONHASHSEED=seed) for seed in ("1", "2"))
        assert first.returncode == 0, first.stderr
        assert first.stdout == second.stdout


def test_json_stands_alone_on_standard_output(job: Path) -> None:
    done = run("plan", str(job), "--json")
    assert json.loads(done.stdout)["schema"] == "tackroom.plan/1"
    assert done.stderr == ""


def test_a_quick_question_is_the_same_job(job: Path) -> None:
    quick = run("plan", "--substrate", "brass", "--temperature", "10", "60", "--json")
    by_file = run("plan", str(job), "--json")
    asked, filed = json.loads(quick.stdout), json.loads(by_file.stdout)
    assert asked["chains"] == filed["chains"]


def test_the_text_answer_says_what_a_technician_needs(job: Path) -> None:
    text = run("plan", str(job), "--full").stdout
    order = [
        text.index(word) for word in ("CHAIN 1", "WHY THIS ONE", "STEPS", "NEXT BEST", "REFUSED", "Class values only")
    ]
    assert order == sorted(order)
    assert "\x1b" not in text, "no colour is needed"
    assert max(map(len, text.splitlines())) <= 100


@pytest.mark.parametrize(
    ("arguments", "status", "said"),
    [
        (["plan", "nowhere.toml"], 2, "nowhere.toml: there is no such file"),
        (["plan"], 2, "give either a job file or --substrate"),
        (["plan", "--substrate", "brass"], 2, "--temperature is missing"),
        (["plan", "--substrate", "qwxzv", "--temperature", "10", "60"], 2, "'qwxzv' is no substrate that is known"),
        (["plan", "--substrate", "brass", "--temperature", "60", "10"], 2, "minimum 60 degC is above maximum 10"),
        (["plan", "--substrate", "brass", "--temperature", "nan", "10"], 2, "nan is not a finite number"),
        (["plan", "--substrate", "brass", "--temperature", "1", "2", "--exposure", "moon"], 2, "is not an exposure"),
        (["plan", "--substrate", "brass", "--temperature", "1", "2", "--prefer", "luck"], 2, "is not a preference"),
        (["plan", "--substrate", "brass", "--temperature", "1", "2", "--workspace", "gone"], 2, "gone: the workspace"),
        (["demo", "boat"], 2, "there is no demo job 'boat'"),
        (["list", "adhesif"], 2, "did you mean 'adhesive'?"),
        (["list", "--family", "ketones"], 2, "did you mean 'ketone'?"),
        (["show", "qwxzv"], 2, "qwxzv"),
        (["calc", "dew-pint"], 2, "dew-point"),
        (["calc", "dew-point", "--inputs", "{"], 2, "--inputs: is not JSON"),
        (["calc", "dew-point", "--inputs", "[]"], 2, "--inputs: is not a JSON object"),
    ],
)
def test_bad_input_is_one_line(arguments: list[str], status: int, said: str, tmp_path: Path) -> None:
    done = run(*arguments, cwd=tmp_path)
    assert done.returncode == status
    assert said in done.stderr
    assert done.stderr.count("\n") == 1
    assert "Traceback" not in done.stderr
    assert done.stdout == ""


def test_what_can_not_be_done_is_status_3_with_reasons(tmp_path: Path) -> None:
    job = tmp_path / "hot.toml"
    part = '[part]\nsubstrate = "solder-masked board"\nmax_process_temperature_c = 60\n'
    job.write_text(f"{part}[service]\ntemperature_c = [15, 300]\n")
    done = run("plan", str(job), "--json")
    assert done.returncode == 3
    document = json.loads(done.stdout)
    assert document["outcome"] == "no-chain"
    assert document["chains"] == []
    assert document["conflict"]
    assert all(row["findings"] for row in document["excluded"])
    text = run("plan", str(job))
    assert text.returncode == 3
    assert "NO CHAIN" in text.stdout


def test_identify_offers_or_says_nothing() -> None:
    found = run("identify", "alumnium 6061", "--json")
    assert found.returncode == 0
    assert json.loads(found.stdout)["matches"][0]["id"] == "aluminium-6061"
    nothing = run("identify", "qwxzv", "--json")
    assert nothing.returncode == 1
    document = json.loads(nothing.stdout)
    assert (document["schema"], document["query"], document["matches"]) == ("tackroom.identify/1", "qwxzv", [])


def test_catalog_answers() -> None:
    item = json.loads(run("show", "acetone", "--json").stdout)
    assert item["schema"] == "tackroom.item/1"
    assert item["item"]["family"] == "ketone"
    items = json.loads(run("list", "degreaser", "--family", "alcohol", "--json").stdout)["items"]
    assert {i["family"] for i in items} == {"alcohol"}
    every = {i["id"]: i for i in json.loads(run("list", "--json").stdout)["items"]}
    adhesives = [i for i in every.values() if "bond_line_um" in i]
    assert len(adhesives) > 10
    assert any(isinstance(word, dict) and "is" in word for i in adhesives for word in i["resists"].values())
    assert all(isinstance(i["storage_c"], list) for i in adhesives if "storage_c" in i)
    rules = json.loads(run("rules", "--json").stdout)["rules"]
    assert all({c["fires"] for c in rule["cases"]} >= {True, False} for rule in rules)
    dew = json.loads(
        run("calc", "dew-point", "--inputs", '{"air_temperature_c": 20, "relative_humidity_pct": 65}', "--json").stdout
    )
    assert dew["schema"] == "tackroom.calc/1"
    assert dew["result"]["dew_point_c"] == pytest.approx(13.2, abs=0.1)


def test_an_unreadable_workspace_is_one_line(tmp_path: Path) -> None:
    (tmp_path / "lab").write_text("a file, not a folder")
    done = run("plan", "--substrate", "brass", "--temperature", "1", "2", "--workspace", str(tmp_path / "lab"))
    assert done.returncode == 2
    assert "the workspace is not a folder" in done.stderr


def test_a_broken_house_rule_is_one_line(house: Path) -> None:
    (house / "rules" / "bad.toml").write_text('id = "bad"\n')
    done = run("plan", "--substrate", "brass", "--temperature", "1", "2", "--workspace", str(house))
    assert done.returncode == 2
    assert "bad.toml" in done.stderr
    assert done.stderr.count("\n") == 1


def test_a_class_shows_its_members() -> None:
    done = run("show", "brass")
    assert done.returncode == 0
    assert done.stdout.startswith("'brass' names a class of materials. A job that says no more is planned at")
    assert "  brass-c26000" in done.stdout
    assert "2 items" in done.stdout
    document = json.loads(run("show", "brass", "--json").stdout)
    assert document["schema"] == "tackroom.items/1"
    assert [item["id"] for item in document["items"]] == ["brass-c26000", "brass-c36000"]


@pytest.mark.parametrize(
    ("words", "taken", "members", "said"),
    [
        ("brass", None, ["brass-c26000", "brass-c36000"], "'brass' is a class: brass-c26000, brass-c36000."),
        ("6061", "aluminium-6061", [], "A job takes '6061' as aluminium-6061."),
        ("SMA", None, [], "None of them is sure: a job would ask."),
    ],
)
def test_identify_says_what_a_job_makes_of_the_words(
    words: str, taken: str | None, members: list[str], said: str
) -> None:
    assert said in run("identify", words).stdout
    document = json.loads(run("identify", words, "--json").stdout)
    assert (document["taken"], document["members"]) == (taken, members)


def test_what_is_near_nothing_is_to_be_described() -> None:
    done = run("identify", "qwxzv")
    assert done.returncode == 1
    assert "let `tackroom describe JOB` ask you about it" in done.stdout
