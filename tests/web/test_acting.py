"""Who acts, and in which role: asked by the guard, and kept by the ledger that pages and API write."""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi import FastAPI

from kb.engine.plan import Engine
from kb.stock.workspace import ledger_of
from kb.web.acting import ENDS_S, LOOK_EVERY_S
from kb.web.app import create_app
from kb.web.settings import Settings
from kb.work.people import MAY, People
from kb.work.recording import record as keep
from tests.stock.factory import TODAY as STOCKED
from tests.stock.factory import received, record
from tests.stock.stores.test_stores import RECORD
from tests.web.calling import Caller, ready

TODAY = datetime.date(2027, 3, 10)
WORDS = "three words and more"
TOKEN = "a-token-of-the-tests-own"
#: What is sent, and the type of event that it would record.
WRITES: dict[str, tuple[str, dict[str, Any]]] = {
    "received": ("/api/lots", {"item": "acetone", "lot": "N", "quantity": 1, "unit": "L"}),
    "opened": ("/api/lots/A/open", {}),
    "used": ("/api/lots/A/use", {"quantity": 1, "unit": "mL"}),
    "counted": ("/api/lots/A/count", {"quantity": 3, "unit": "mL"}),
    "condemned": ("/api/lots/A/condemn", {"reason": "x"}),
    "corrected": ("/api/lots/A/correct", {"corrects": 1, "change": {"location": "y"}, "reason": "x"}),
    "signed": ("/api/records/1/signatures", {}),
}


@pytest.fixture
def app(tmp_path: Path, engine: Engine) -> FastAPI:
    """A lab with somebody in each role, a lot, and a record that kim made."""
    record(ledger_of(tmp_path), [received("A", expires="2099-01-01")])
    keep(ledger_of(tmp_path), RECORD, STOCKED)
    people = People(tmp_path)
    for role in MAY:
        people.add(f"the {role}", role, WORDS, "kim", "2027-03-01")
    return ready(create_app(Settings(workspace=tmp_path, today=lambda: TODAY, who="kim")), engine)


@pytest.fixture
def let_in(app: FastAPI) -> Callable[[str], Caller]:
    def enter(role: str) -> Caller:
        caller = Caller(app)
        answer = caller.send("POST", "/enter", data={"name": f"the {role}", "password": WORDS, "onward": "/shelf"})
        assert (answer.status_code, answer.headers["location"]) == (303, "/shelf")
        assert f"Max-Age={ENDS_S}" in answer.headers["set-cookie"]
        return caller

    return enter


def test_nobody_who_has_not_come_in_sees_anything(app: FastAPI) -> None:
    caller = Caller(app)
    assert caller.get("/health").status_code == 200
    assert 'name="password"' in caller.get("/enter").text
    answer = caller.get("/shelf?on=2027-03-09")
    assert answer.status_code == 401
    assert 'name="password"' in answer.text, "the door stands there itself"
    assert 'name="onward" value="/shelf?on=2027-03-09"' in answer.text
    for sent in ({"name": "the bench", "password": "no"}, {"name": "who", "password": WORDS}, {"token": TOKEN}, {}):
        assert caller.send("POST", "/enter", data=sent).status_code == 403
    assert caller.get("/api/lots").json()["type"] == "/problems#sign-in-needed"


@pytest.mark.parametrize("role", MAY)
@pytest.mark.parametrize("kind", WRITES)
def test_each_role_records_what_is_its_own_and_nothing_else(
    role: str, kind: str, let_in: Callable[[str], Caller], tmp_path: Path
) -> None:
    caller, (path, body) = let_in(role), WRITES[kind]
    before = ledger_of(tmp_path).standing().head
    for dry in ("?dry_run=true", ""):
        answer = caller.write(path + dry, {**body, "who": "somebody else"})
        if kind in MAY[role]:
            assert answer.status_code == 200, answer.text
        else:
            assert (answer.status_code, answer.json()["type"]) == (403, "/problems#role")
            assert f"the {role}, {role}: may not record '{kind}'; ask " in answer.json()["detail"]
    with ledger_of(tmp_path).store.reading() as reader:
        added = reader.entries(after=before.seq)
    assert [entry.body["who"] for entry in added] == [f"the {role}"] * (kind in MAY[role])


def form(caller: Caller, page: str) -> dict[str, str]:
    text = caller.get(page).text
    found = re.search(
        r'name="session_token" value="([^"]+)"\s*>\s*<input type="hidden" name="once" value="([^"]+)"', text
    )
    assert found is not None
    return {"session_token": found[1], "once": found[2]}


def test_pages_keep_to_the_roles_too(let_in: Callable[[str], Caller], tmp_path: Path) -> None:
    asked = {"event": "condemned", "reason": "x", "sure": "yes"}
    bench, approver = let_in("bench"), let_in("approver")
    page = "/shelf/lots/A"
    shown = bench.get(page).text
    assert "Who: the bench" in shown
    assert 'value="opened"' in shown
    assert 'value="condemned"' not in shown, "what one may not do isn't offered"
    answer = bench.send("POST", page, data=form(bench, page) | asked)
    assert answer.status_code == 403
    assert "ask approver" in answer.text
    assert approver.send("POST", page, data=form(approver, page) | asked).status_code == 303
    assert ledger_of(tmp_path).documents("stock")[-1]["who"] == "the approver"


def test_a_record_is_signed_on_its_page_by_another(let_in: Callable[[str], Caller], tmp_path: Path) -> None:
    approver = let_in("approver")
    sign = {"record": "1", "of": "bracket", "verdict": "approved"}
    page = "/trace?of=bracket"
    answer = approver.send("POST", "/trace", data=form(approver, page) | sign)
    assert (answer.status_code, answer.headers["location"]) == (303, page)
    assert "approved by the approver on 2027-03-10" in approver.get(page).text
    assert ledger_of(tmp_path).documents("work")[-1]["who"] == "the approver"


def test_whoever_is_ended_or_has_left_is_out_everywhere(
    let_in: Callable[[str], Caller], app: FastAPI, tmp_path: Path
) -> None:
    clock = [1000.0]
    app.state.entrance._clock = lambda: clock[0]
    first, second, third = let_in("bench"), let_in("bench"), let_in("approver")
    stolen = Caller(app)
    stolen.cookies = httpx.Cookies(first.cookies)
    token = first.get("/api/session").json()["token"]
    assert first.send("POST", "/leave", data={"session_token": token}).status_code == 303
    assert first.get("/shelf").status_code == 401
    assert stolen.get("/shelf").status_code == 401, "the proof counts no more, wherever it is"
    anew = Caller(ready(create_app(app.state.desk.settings), app.state.desk.engine))
    anew.app.state.entrance._clock = lambda: clock[0]
    for one, status in ((stolen, 401), (third, 200)):
        anew.cookies = httpx.Cookies(one.cookies)
        assert anew.get("/shelf").status_code == status, "a server started anew knows who has left, and who hasn't"
    clock[0] += 1
    second = let_in("bench")
    assert second.get("/shelf").status_code == 200
    People(tmp_path).give_role("the approver", "reader", "kim", "2027-03-10")
    People(tmp_path).end("the bench", "kim", "2027-03-10")
    clock[0] += LOOK_EVERY_S
    assert second.get("/shelf").status_code == 401
    assert third.write("/api/lots/A/condemn", {"reason": "x"}).status_code == 403
    clock[0] += ENDS_S
    assert third.get("/shelf").status_code == 401, "and a session ends by itself"


@pytest.mark.parametrize(
    "change",
    [
        lambda p: p[:-1] + ("0" if p[-1] != "0" else "1"),
        lambda p: "zz" + p,
        lambda _: "..",
        lambda p: p.replace(".1", ".9", 1),
    ],
)
def test_a_proof_that_was_changed_is_none(change: Callable[[str], str], let_in: Callable[[str], Caller]) -> None:
    caller = let_in("bench")
    proof = caller.cookies["tackroom_person"]
    caller.cookies.clear()
    changed = change(proof)
    assert caller.get("/shelf", headers={"Cookie": f"tackroom_person={changed}"}).status_code == 401
    assert caller.get("/shelf", headers={"Cookie": f"tackroom_person={proof}"}).status_code == 200


@pytest.mark.usefixtures("app")
def test_who_has_the_token_and_is_nobody_looks_only(tmp_path: Path, engine: Engine) -> None:
    settings = Settings(workspace=tmp_path, today=lambda: TODAY, token=TOKEN)
    caller = Caller(ready(create_app(settings), engine))
    bearer = {"Authorization": f"Bearer {TOKEN}"}
    assert caller.get("/api/lots").status_code == 401
    assert caller.get("/api/lots", headers=bearer).status_code == 200
    token = caller.get("/api/session", headers=bearer).json()["token"]
    headers = bearer | {"X-Session-Token": token, "Idempotency-Key": "open-a-17"}
    assert caller.post("/api/lots/A/open", {}, headers=headers).json()["type"] == "/problems#role"


def test_without_people_each_device_is_asked_once_who_records(tmp_path: Path, engine: Engine) -> None:
    record(ledger_of(tmp_path), [received("A", expires="2099-01-01")])
    told = Caller(ready(create_app(Settings(workspace=tmp_path, today=lambda: TODAY, who="kim")), engine))
    assert "Who records on this device?" not in told.get("/shelf").text
    settings = Settings(workspace=tmp_path, today=lambda: TODAY, who="root", asks_who=True)
    caller = Caller(ready(create_app(settings), engine))
    assert "Who records on this device?" in caller.get("/shelf/lots/A").text
    assert "Who records on this device?" not in caller.get("/problems").text
    token = caller.get("/api/session").json()["token"]
    sent = {"session_token": token, "who": "Zoë\n of bench 2", "onward": "/shelf/lots/A"}
    assert caller.send("POST", "/who", data=sent | {"session_token": "x"}).status_code == 403
    answer = caller.send("POST", "/who", data=sent)
    assert (answer.status_code, answer.headers["location"]) == (303, "/shelf/lots/A")
    page = caller.get("/shelf/lots/A").text
    assert "Who records on this device?" not in page
    assert "Left out: Zoë of bench 2" in page
    assert caller.write("/api/lots/A/open", {}).json()["events"][0]["who"] == "Zoë of bench 2"
    assert (
        caller.write("/api/lots/A/use", {"quantity": 1, "unit": "mL", "who": "sam"}).json()["events"][0]["who"] == "sam"
    )
