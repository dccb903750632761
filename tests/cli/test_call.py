"""The lab's own words: taught once, understood wherever items are named, and forgotten again."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from kb import knowledge
from kb.base.errors import TackroomError
from kb.cli.program import program

JOB = '[part]\nsubstrate = "{}"\n[service]\ntemperature_c = [0, 40]\n'


@pytest.fixture
def lab(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("TACKROOM_WORKSPACE", str(tmp_path))
    return tmp_path


def run(*words: str) -> str:
    done = CliRunner().invoke(program(words), words)
    if isinstance(done.exception, TackroomError):
        return f"{done.exception.exit_status} {done.exception}"
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return done.stdout


def matches(words: str) -> list[Any]:
    found: list[Any] = json.loads(run("identify", words, "--json"))["matches"]
    return found


@pytest.mark.usefixtures("lab")
def test_a_word_is_taught_understood_and_forgotten() -> None:
    assert run("call", "Bracket steel no. 5", "stainless-304") == "'Bracket steel no. 5' means stainless-304.\n"
    assert matches("bracket  STEEL no. 5") == [
        {"id": "stainless-304", "name": matches("stainless-304")[0]["name"], "family": "stainless-steel"}
        | {"how": "house", "score": 100.0}
    ]
    assert run("call") == "Bracket steel no. 5: stainless-304\n"
    assert json.loads(run("call", "--json")) == {
        "schema": "tackroom.call/1",
        "words": [{"words": "Bracket steel no. 5", "item": "stainless-304"}],
    }
    assert "(it was stainless-304)" in run("call", "bracket steel no. 5", "ptfe")
    assert run("call") == "bracket steel no. 5: ptfe\n"
    assert run("call", "bracket steel no. 5", "--undo") == "'bracket steel no. 5' no longer means ptfe.\n"
    assert [one["how"] for one in matches("bracket steel no. 5") if one["how"] == "house"] == []


def test_a_job_a_check_and_a_receipt_understand_it(lab: Path) -> None:
    run("call", "drawing note 7", "stainless-304")
    run("call", "the blue stuff", "acetone")
    run("call", "синий клей", "acetone")
    assert matches("Синий  клей")[0]["id"] == "acetone"
    (lab / "job.toml").write_text(JOB.format("drawing note 7"))
    part = json.loads(run("plan", "job.toml", "--json"))["substrate"]
    assert (part["id"], part["match"]["how"]) == ("stainless-304", "house")
    assert json.loads(run("check", "the blue stuff", "acrylic-pmma", "--json"))["items"][0] == "acetone"
    assert "A received 5 mL" in run("stock", "receive", "the blue stuff", "A", "5", "mL")
    assert matches("the blue stuff")[0]["how"] == "house"


def test_the_digest_moves_with_the_words(lab: Path) -> None:
    """A server that keeps plans knows by it that they may be others."""
    before = knowledge.load(lab).digest
    run("call", "drawing note 7", "stainless-304")
    taught = knowledge.load(lab).digest
    run("call", "drawing note 7", "--undo")
    assert before == knowledge.load(lab).digest != taught


@pytest.mark.usefixtures("lab")
@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("call", "acetone", "stainless-304"), "2 call: 'acetone' is a name of the catalog's own; teach other words"),
        (("call", "w", "no-such-item-at-all"), "2 call: 'no-such-item-at-all' is no item that is known"),
        (("call", "w"), '2 call: the item is missing; call "WORDS" ITEM'),
        (("call", "?!", "acetone"), "2 call: '?!' are no words that can be taught"),
        (("call", "w" * 121, "acetone"), "2 call: 'wwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwww' are no words"),
        (("call", "nothing", "--undo"), "2 call: 'nothing' was never taught; see `tackroom call`"),
    ],
)
def test_what_can_not_be_taught_is_one_line(words: tuple[str, ...], said: str) -> None:
    assert run(*words).startswith(said)


def test_a_file_that_somebody_spoilt_is_one_line(lab: Path) -> None:
    for content in ("{", "[]", '{"words": 7}', '{"words": {"1": {"words": 7}}}', "{" * 100_000, "\x00"):
        (lab / "documents.json").write_text(content)
        said = run("call")
        assert said.startswith("2 "), content[:20]
        assert "documents.json" in said
        assert "\n" not in said
