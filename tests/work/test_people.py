"""Who may come in: names, roles and passwords among the lab's documents, and the commands that keep them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from kb.base.documents import NAME
from kb.base.errors import BadInput
from kb.cli.people import app
from kb.stock.events import Received
from kb.work.people import MAY, People, who_may

WORDS = "three words and more"


@pytest.fixture
def people(tmp_path: Path) -> People:
    found = People(tmp_path)
    found.add("lee", "bench", WORDS, "kim", "2027-03-01")
    return found


def test_a_password_is_known_and_not_kept(people: People, tmp_path: Path) -> None:
    assert people.known("lee", WORDS) is not None
    for name, password in (("lee", WORDS + " "), ("lee", ""), ("Lee", WORDS), ("sam", WORDS), ("", "")):
        assert people.known(name, password) is None
    assert WORDS not in (tmp_path / NAME).read_text()
    assert "$argon2id$" in (tmp_path / NAME).read_text()


def test_whoever_is_ended_is_let_in_no_more_and_their_name_is_nobody_elses(people: People) -> None:
    people.give_role("lee", "approver", "kim", "2027-03-02")
    people.end("lee", "kim", "2027-03-03")
    assert people.known("lee", WORDS) is None
    assert people.there() == {}
    [one] = people.all()
    assert (one.role, one.ended, one.digest) == ("approver", "2027-03-03", "")
    assert one.history == (
        "2027-03-01: added as bench by kim",
        "2027-03-02: made approver by kim",
        "2027-03-03: ended by kim",
    )
    with pytest.raises(BadInput, match="the ledger names the one who left by it"):
        people.add("LEE", "bench", WORDS, "kim", "2027-03-04")
    with pytest.raises(BadInput, match="is nobody who may come in"):
        people.give_role("lee", "bench", "kim", "2027-03-04")


@pytest.mark.parametrize(
    ("name", "role", "password", "said"),
    [
        ("lee", "bench", WORDS, "is somebody already"),
        ("", "bench", WORDS, "can't be a name"),
        ("a\nb", "bench", WORDS, "can't be a name"),
        ("\u202esam", "bench", WORDS, "can't be a name"),
        ("x" * 61, "bench", WORDS, "can't be a name"),
        ("sam", "boss", WORDS, "'boss' is no role; one of: reader, bench, store-keeper, approver"),
        ("sam", "bench", "x" * 9, "has 9 characters"),
    ],
)
def test_what_can_be_nobody_is_said(name: str, role: str, password: str, said: str, people: People) -> None:
    with pytest.raises(BadInput, match=said):
        people.add(name, role, password, "kim", "2027-03-01")
    assert len(people.all()) == 1


def test_every_kind_of_event_is_somebodys_to_record() -> None:
    from kb.stock import events
    from kb.work import confirming, forms

    kinds = {form.model_fields["type"].annotation.__args__[0] for form in vars(events).values() if _has_type(form)}
    assert "received" in kinds
    assert len(kinds) > 12
    for kind in {*kinds, *forms._FORMS, *confirming._FORMS}:
        assert who_may(kind), kind
    assert MAY["reader"] == frozenset()
    assert MAY["bench"] < MAY["store-keeper"]
    assert MAY["bench"] < MAY["approver"]


def _has_type(form: Any) -> bool:
    return (
        isinstance(form, type)
        and "type" in getattr(form, "model_fields", {})
        and form.__module__ == Received.__module__
    )


def test_the_commands_keep_them(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TACKROOM_WORKSPACE", str(tmp_path))
    monkeypatch.setenv("TACKROOM_WHO", "kim")
    monkeypatch.setenv("TACKROOM_TODAY", "2027-06-01")

    def run(*words: str, said: str | None = None) -> str:
        found = CliRunner().invoke(app, list(words), input=said, catch_exceptions=False)
        return str(found.stdout)

    assert run("list").startswith("Nobody: pages and API ask nobody")
    assert run("add", "lee", "--role", "store-keeper", said=f"{WORDS}\n") == "lee: store-keeper\n"
    with pytest.raises(BadInput, match="nobody is there to type one"):
        run("add", "sam")
    assert run("role", "lee", "approver") == "lee: approver\n"
    run("password", "lee", said="another one of words\n")
    assert People(tmp_path).known("lee", "another one of words") is not None
    assert run("end", "lee") == "lee: ended 2027-06-01, was approver\n"
    [row] = json.loads(run("list", "--json"))["people"]
    assert (row["name"], row["ended"]) == ("lee", "2027-06-01")
    assert "digest" not in row
    assert row["history"][-1] == "2027-06-01: ended by kim"
