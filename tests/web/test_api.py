"""The API answers with the documents of the commands, and records each write once."""

from __future__ import annotations

import contextlib
import datetime
import json
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import httpx
import pytest

from kb.cli import main
from kb.engine.plan import Engine
from kb.job import read_job
from kb.planning.demo import jobs
from kb.web.app import create_app
from kb.web.settings import Settings
from tests.web.addresses import fill
from tests.web.calling import Caller, ready

TODAY = datetime.date(2027, 3, 1)
JOB: dict[str, Any] = {
    "job": {"name": "brass bracket"},
    "part": {"substrate": "brass"},
    "service": {"temperature_c": [10, "140 degF"]},
}
LOT = {"item": "acetone", "lot": "A-1", "quantity": "1.5", "unit": "L"}


@pytest.fixture
def caller(tmp_path: Path, engine: Engine) -> Caller:
    fill(tmp_path)
    return Caller(ready(create_app(Settings(workspace=tmp_path, today=lambda: TODAY, who="kim")), engine))


def kind(answer: httpx.Response) -> tuple[int, str]:
    return answer.status_code, answer.json()["type"].removeprefix("/problems#")


# -- the same documents

QUESTIONS = {
    "plan": "plan {job}",
    "plan?top=1&prefer=time": "plan {job} --top 1 --prefer time",
    "plan?stock=true&on=2027-03-01": "plan {job} --stock --on 2027-03-01",
    "plan?prefer=stock&on=2027-03-01": "plan {job} --prefer stock --on 2027-03-01",
    "check?item=acetone&item=polycarbonate": "check acetone polycarbonate --job {job}",
    "explain?item=acetone": "explain {job} acetone",
    "compare": "compare {job}",
    "compare?chain=2&chain=3": "compare {job} 2 3",
    "compare?with=part.clamping%3Dthumb-only": "compare {job} --with part.clamping=thumb-only",
    "estimate": "estimate {job}",
    "estimate?chain=2": "estimate {job} --chain 2",
    "bench": "bench {job}",
    "timeline?start=2027-03-01&technicians=2": "timeline {job} --start 2027-03-01 --technicians 2",
    "pick?on=2027-03-01": "pick {job} --on 2027-03-01",
    "matrix?rows=degreaser&columns=conditioner": "matrix degreaser conditioner --job {job}",
}
LOOKS = {
    "check?item=acetone&item=polycarbonate": "check acetone polycarbonate",
    "identify?words=ptfe": "identify ptfe",
    "items?kind=abrasive": "list abrasive",
    "items/brass": "show brass",
    "items/acetone": "show acetone",
    "rules": "rules",
    "calc": "calc",
    "matrix?rows=degreaser&columns=exposure": "matrix degreaser exposure",
    "lots?on=2027-03-01": "stock list --on 2027-03-01",
    "flags?on=2027-03-01&within=60": "stock flag --on 2027-03-01 --within 60",
    "lots/IPA-31/history": "stock history IPA-31",
    "lots/%3Cb%3Eodd%3C%2Fb%3E/history": "stock history <b>odd</b>",
    "stock/verify": "stock verify",
    "trace?of=IPA-31": "trace IPA-31",
}


def commanded(words: list[str], workspace: Path, patch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Any:
    """The document that a command prints."""
    own = [] if words[0] == "calc" else ["--workspace", str(workspace)]
    patch.setattr(sys, "argv", ["tackroom", *words, "--json", *own])
    with contextlib.suppress(SystemExit):
        main()
    return json.loads(capsys.readouterr().out)


@pytest.mark.parametrize("address", QUESTIONS)
def test_a_question_is_answered_as_the_command_does(
    address: str, caller: Caller, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    path = jobs()["board"]
    words = [word.replace("{job}", str(path)) for word in QUESTIONS[address].split()]
    body = json.loads(read_job(path).model_dump_json(exclude_none=True))
    answer = caller.post(f"/api/{address}", body)
    assert answer.status_code == 200, answer.text
    assert answer.json() == commanded(words, tmp_path, monkeypatch, capsys)


@pytest.mark.parametrize("address", LOOKS)
def test_a_look_shows_what_the_command_does(
    address: str, caller: Caller, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    method = "POST" if address.startswith("check") else "GET"
    answer = caller.send(method, f"/api/{address}")
    assert answer.status_code == 200, answer.text
    assert answer.json() == commanded(LOOKS[address].split(" "), tmp_path, monkeypatch, capsys)


def test_a_calculation_is_the_command_s(
    caller: Caller, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    inputs = {"air_temperature_c": 20, "relative_humidity_pct": 50}
    words = ["calc", "dew-point", "--inputs", json.dumps(inputs)]
    assert caller.post("/api/calc/dew-point", inputs).json() == commanded(words, tmp_path, monkeypatch, capsys)


def test_what_has_no_chain_is_an_answer(caller: Caller) -> None:
    job = {"part": {"substrate": "ptfe"}, "service": {"temperature_c": [0, 320]}}
    answer = caller.post("/api/plan", job)
    assert answer.status_code == 200
    assert answer.json()["outcome"] == "no-chain"
    assert answer.json()["conflict"]
    for path in ("estimate", "bench", "timeline", "pick"):
        assert kind(caller.post(f"/api/{path}", job)) == (409, "no-chain")


def test_the_same_question_under_another_name_is_not_reckoned_again(
    caller: Caller, monkeypatch: pytest.MonkeyPatch
) -> None:
    for job in (JOB, JOB | {"service": {"temperature_c": [10, 300]}}):
        first = caller.post("/api/plan", job).json()
        with monkeypatch.context() as patch:
            patch.setattr(Engine, "screened", None)
            again = caller.post("/api/plan", job | {"job": {"name": "another"}}).json()
        assert again["job"]["job"]["name"] == "another"
        assert again == first | {"job": again["job"]}
        assert again["job"] == first["job"] | {"job": again["job"]["job"]}


def test_what_the_answer_hangs_on_may_be_left_out(caller: Caller) -> None:
    whole, rest = (caller.post(f"/api/plan{query}", JOB).json() for query in ("", "?hangs_on=false"))
    assert whole["hangs_on"]
    assert rest == whole | {"hangs_on": None}


def test_two_jobs_are_set_side_by_side(caller: Caller) -> None:
    other = JOB | {"part": {"substrate": "ptfe"}}
    found = caller.post("/api/compare", [JOB, other]).json()
    assert found["conditions"] == [{"field": "part.substrate", "a": "brass", "b": "ptfe"}]
    assert kind(caller.post("/api/compare?chain=1&chain=2", [JOB, other])) == (422, "bad-input")
    assert kind(caller.post("/api/compare", [JOB])) == (422, "bad-input")
    assert kind(caller.post("/api/compare?chain=1", JOB)) == (422, "bad-input")
    assert kind(caller.post("/api/compare?chain=1&chain=100", JOB | {"limits": {"ready_within_h": 1}}))[0] == 422


def test_a_described_material_is_asked_about(caller: Caller) -> None:
    job = JOB | {"part": {"substrate": {"family": "polyamide"}}}
    found = caller.post("/api/describe", job).json()
    assert found["open"]
    answered = caller.post(f"/api/describe?answer={found['open'][0]}=unknown", job).json()
    assert found["open"][0] not in answered["open"]
    assert kind(caller.post("/api/describe", JOB)) == (422, "bad-input")
    assert kind(caller.post("/api/describe?answer=x", job)) == (422, "bad-input")


@pytest.mark.parametrize(
    ("method", "path", "status"),
    [
        ("GET", "items/kryptonite", 404), ("GET", "rules/no-such-rule", 404), ("GET", "lots/none/history", 404),
        ("GET", "trace?of=none", 404), ("POST", "calc/none", 404), ("GET", "nothing", 404), ("DELETE", "lots", 405),
        ("GET", "matrix?rows=x&columns=y", 422), ("GET", "lots?on=tomorrow", 422), ("GET", "identify", 422),
        ("POST", "plan", 422), ("POST", "explain?item=none", 422), ("POST", "scan", 422), ("GET", "items?kind=x", 422),
    ],
)  # fmt: skip
def test_what_is_wrong_is_said(method: str, path: str, status: int, caller: Caller) -> None:
    answer = caller.send(method, f"/api/{path}", **({"json": {}} if method == "POST" else {}))
    assert kind(answer)[0] == status
    assert answer.json()["detail"]


@pytest.mark.parametrize(
    ("content", "status"),
    [
        (b"{", 422), (b"\xff", 400), (b"[" * 100_000, 400), (b'{"part": ' + b"9" * 5000 + b"}", 400), (b"", 422),
        (b'{"part": {"substrate": "\\ud800"}, "service": {"temperature_c": [0, 1]}}', 422),
        (b'{"part": {"substrate": "brass"}, "service": {"temperature_c": [0, NaN]}}', 422),
        (b'{"part": {"substrate": "brass"}, "service": {"temperature_c": [0, 1e999]}}', 422),
        (b'{"part": {"substrate": ' + b'{"like":' * 50 + b"1" + b"}" * 50 + b"}}", 422), (b"null", 422), (b"[]", 422),
    ],
)  # fmt: skip
@pytest.mark.parametrize("path", ["plan", "compare", "calc/dew-point", "check?item=acetone&item=ethanol"])
def test_a_body_that_is_no_job_is_refused(content: bytes, status: int, path: str, caller: Caller) -> None:
    if path.startswith("check") and content in (b"", b"null"):
        return
    headers = {"Content-Type": "application/json"}
    assert kind(caller.send("POST", f"/api/{path}", content=content, headers=headers)) == (status, "bad-input")


# -- bounds


@pytest.mark.parametrize(
    ("path", "more", "said"),
    [
        ("timeline", {"batch": {"boards": 30_000}}, "more than are scheduled here"),
        ("estimate", {"batch": {"boards": 30_000}}, "more than are scheduled here"),
        ("matrix?rows=substrate&columns=adhesive", {}, "pairs; for a job 6500 are the most"),
        ("check?" + "&".join(f"item={name}" for name in ("acetone",) * 16), {}, "at most 15 items"),
    ],
)
def test_what_would_take_too_long_is_refused(path: str, more: dict[str, Any], said: str, caller: Caller) -> None:
    begun = time.monotonic()
    answer = caller.post(f"/api/{path}", JOB | more)
    assert answer.status_code == 422
    assert said in answer.json()["detail"]
    assert time.monotonic() - begun < 5


def test_many_adhesives_at_once_are_refused(caller: Caller, engine: Engine) -> None:
    adhesives = sorted(engine.knowledge.by_kind["adhesive"], key=lambda e: -len(e.facts["schedules"]))[:8]
    names = "&".join(f"item={entry.id}" for entry in adhesives)
    assert "so many things" in caller.post(f"/api/check?{names}").json()["detail"]
    few = "&".join(f"item={entry.id}" for entry in adhesives[:2])
    assert "remedies" not in caller.post(f"/api/check?{few}").json()


# -- writes


def test_each_event_of_a_lot_is_recorded(caller: Caller) -> None:
    writes: list[tuple[str, dict[str, Any]]] = [
        ("lots", LOT | {"expires": "2028-12-31", "storage_c": 20, "who": "jo"}),
        ("lots/A-1/open", {}),
        ("lots/A-1/use", {"quantity": 20, "unit": "ml", "job": "bracket", "part": "3", "at": "2027-03-01T09:30"}),
        ("lots/A-1/move", {"location": "cupboard 2", "storage_c": 22.5}),
        ("lots/A-1/count", {"quantity": "1.2", "unit": "L"}),
        ("lots/A-1/requalify", {"until": "2029-01-31", "test": "residue 3 mg/L", "reason": "as new"}),
        ("lots/A-1/correct", {"corrects": 10, "change": {"quantity": "25"}, "reason": "misread"}),
        ("lots/A-1/correct", {"corrects": 12, "void": True, "reason": "another lot was counted"}),
        ("lots/A-1/condemn", {"reason": "cloudy"}),
    ]
    for path, body in writes:
        answer = caller.write(f"/api/{path}", body)
        assert answer.status_code == 200, answer.text
        assert answer.json()["schema"] == "tackroom.stock-events/1"
    events = caller.get("/api/lots/A-1/history").json()["events"]
    assert [event["type"] for event in events] == [
        "received", "opened", "used", "moved", "counted", "requalified", "corrected", "corrected", "condemned",
    ]  # fmt: skip
    assert [event["who"] for event in events] == ["jo"] + ["kim"] * 8
    assert events[2]["at"] == "2027-03-01T09:30"
    lot = next(row for row in caller.get("/api/lots").json()["lots"] if row["lot"] == "A-1")
    assert (lot["quantity"], lot["state"], lot["location"]) == (1.475, "condemned", "cupboard 2")
    assert caller.get("/api/stock/verify").json()["sound"]


def test_what_breaks_a_rule_of_the_shelf_is_refused(caller: Caller) -> None:
    refused = caller.write("/api/lots/CA-05/use", {"quantity": 1, "unit": "g"})
    assert kind(refused) == (409, "must-act")
    assert refused.json()["mend"] == "take another lot; or, if you must, anyway with a reason"
    anyway = {"quantity": 1, "unit": "g", "anyway": True}
    assert kind(caller.write("/api/lots/CA-05/use", anyway)) == (422, "bad-input")
    assert caller.write("/api/lots/CA-05/use", anyway | {"reason": "practice piece"}).status_code == 200
    assert kind(caller.write("/api/lots/IPA-31/use", {"quantity": 2, "unit": "L"}))[0] == 422
    assert kind(caller.write("/api/lots/none/open", {})) == (404, "not-found")
    assert kind(caller.write("/api/lots", LOT | {"lot": "IPA-31"}))[0] == 422
    for wrong in ({"who": ""}, {"who": "x" * 101}, {"by": "x"}, {"at": "tomorrow"}):
        assert kind(caller.write("/api/lots/IPA-31/open", wrong)) == (422, "bad-input")


def test_a_code_fills_in_what_it_holds(caller: Caller) -> None:
    code = "]C101040123456789011728123110ABC123"
    found = caller.post("/api/scan", {"code": code}).json()
    assert (found["lot"], found["expires"], found["gtin"]) == ("ABC123", "2028-12-31", "04012345678901")
    body = {"scan": code, "item": "acetone", "quantity": 1, "unit": "L"}
    [event] = caller.write("/api/lots", body).json()["events"]
    assert (event["lot"], event["expires"], event["gtin"]) == ("ABC123", "2028-12-31", "04012345678901")
    assert kind(caller.write("/api/lots", {"scan": code})) == (422, "bad-input")
    assert kind(caller.post("/api/scan", {"code": "]C1010401234567890217"})) == (422, "bad-input")


def test_a_dry_run_records_nothing_and_uses_up_no_word(caller: Caller) -> None:
    word = {"Idempotency-Key": "one-word-of-ours"}
    rehearsed = caller.write("/api/lots?dry_run=true", LOT, **word).json()
    assert rehearsed["dry_run"]
    assert kind(caller.get("/api/lots/A-1/history"))[0] == 404
    assert not caller.write("/api/lots", LOT, **word).json()["dry_run"]
    assert len(caller.get("/api/lots/A-1/history").json()["events"]) == 1


def test_what_is_sent_by_many_at_once_is_recorded_once(caller: Caller) -> None:
    headers = caller.session() | {"Idempotency-Key": "one-word-for-all"}
    gate = threading.Barrier(8)

    def send(_: int) -> httpx.Response:
        own = Caller(caller.app)
        own.cookies = httpx.Cookies(caller.cookies)
        gate.wait()
        return own.post("/api/lots/IPA-31/use", {"quantity": 10, "unit": "mL"}, headers=headers)

    with ThreadPoolExecutor(8) as pool:
        answers = list(pool.map(send, range(8)))
    assert {answer.status_code for answer in answers} <= {200, 409}
    assert len({answer.text for answer in answers if answer.status_code == 200}) == 1
    lot = next(row for row in caller.get("/api/lots").json()["lots"] if row["lot"] == "IPA-31")
    assert lot["quantity"] == 450


def test_a_word_outlives_the_server(caller: Caller, tmp_path: Path, engine: Engine) -> None:
    """Whoever heard no answer asks a server that was started anew, and nothing is recorded twice."""
    headers = caller.session()
    first = caller.post("/api/lots/IPA-31/use", {"quantity": 10, "unit": "mL"}, headers=headers)
    settings = Settings(workspace=tmp_path, today=lambda: TODAY, who="kim")
    anew = Caller(ready(create_app(settings), engine))
    anew.cookies = caller.cookies
    again = anew.post("/api/lots/IPA-31/use", {"quantity": 10, "unit": "mL"}, headers=headers)
    assert (again.status_code, again.text) == (200, first.text)
    assert again.headers["idempotency-replayed"] == "true"
    lot = next(row for row in anew.get("/api/lots").json()["lots"] if row["lot"] == "IPA-31")
    assert lot["quantity"] == 450


def test_another_session_s_word_is_another_word(caller: Caller) -> None:
    word = {"Idempotency-Key": "the-same-word"}
    body = {"quantity": 10, "unit": "mL"}
    assert caller.write("/api/lots/IPA-31/use", body, **word).status_code == 200
    other = Caller(caller.app)
    answer = other.write("/api/lots/IPA-31/use", body, **word)
    assert answer.status_code == 200
    assert "idempotency-replayed" not in answer.headers
    assert answer.json()["events"][0]["id"] != 8
    lot = next(row for row in caller.get("/api/lots").json()["lots"] if row["lot"] == "IPA-31")
    assert lot["quantity"] == 440


def test_a_decision_a_name_and_a_day_ahead(caller: Caller) -> None:
    assert caller.write("/api/lots/IPA-31/hold", {"reason": "cloudy"}).status_code == 200
    refused = caller.write("/api/lots/IPA-31/use", {"quantity": 1, "unit": "mL"})
    assert kind(refused) == (409, "must-act")
    assert caller.write("/api/lots/IPA-31/free", {"reason": "clear"}).status_code == 200
    ahead = {"quantity": 1, "unit": "mL", "at": "2027-04-01"}
    assert "is ahead of today (2027-03-01)" in caller.write("/api/lots/IPA-31/use", ahead).json()["what"]
    assert caller.write("/api/lots/IPA-31/use", ahead | {"ahead": True}).status_code == 200
    assert caller.write("/api/lots/IPA-31/rename", {"to": "IPA-13"}).status_code == 200
    assert caller.write("/api/lots/IPA-13/dispose", {"at": "2027-04-02", "ahead": True}).status_code == 200
    rows = {row["lot"]: row["quantity"] for row in caller.get("/api/lots").json()["lots"]}
    assert rows["IPA-13"] == 460
    assert {row["lot"]: row["quantity"] for row in caller.get("/api/lots?on=2027-04-02").json()["lots"]}["IPA-13"] == 0
    assert caller.get("/api/lots?known=2026-11-01").json()["lots"] == []


def test_a_job_is_recorded_traced_and_learned_from(caller: Caller) -> None:
    caller.write("/api/lots", LOT)
    picked = caller.write("/api/reservations", {"job": JOB}).json()
    assert picked["schema"] == "tackroom.pick/1"
    other = JOB | {"job": {"name": "another"}}
    assert caller.write("/api/reservations", {"job": other, "release": True}).status_code == 200
    body = {"job": JOB, "outcome": "pass", "installation": "1-3", "lots": {"A-1": None, "CA-07": "0.5"}, "part": "7"}
    assert kind(caller.write("/api/records", body)) == (422, "bad-input"), "its chain has another adhesive"
    chosen = JOB | {"choose": {"adhesive": "ethyl-cyanoacrylate-low-viscosity"}}
    body |= {"job": chosen}
    kept = caller.write("/api/records", body).json()
    assert len(kept["record"]["installations"]) == 3
    assert kept["yield"]["passed"] == 3
    assert kind(caller.write("/api/records", body)) == (422, "bad-input")
    again = body | {"outcome": "fail", "installation": "3", "again": True, "reason": "let go", "lots": {}}
    assert caller.write("/api/records?dry_run=true", again).json()["record"]["installations"][0]["outcome"] == "fail"
    assert caller.write("/api/records", again).json()["yield"]["failed"] == 1
    of_job = caller.get("/api/trace?of=brass bracket").json()
    assert (of_job["passed"], of_job["failed"]) == (2, 1)
    of_lot = caller.get("/api/trace?of=CA-07").json()
    assert of_lot["recall"][0]["installations"] == ["1", "2"]
    assert caller.post("/api/estimate", chosen).json()["learned_yield"]["passed"] == 2
    assert kind(caller.write("/api/records", body | {"lots": {"a,b": 1}, "installation": "9"})) == (422, "bad-input")
    assert kind(caller.write("/api/records", body | {"installation": "1-30000"})) == (422, "bad-input")
    assert kind(caller.write("/api/records", body | {"installation": "1-99999," * 200})) == (422, "bad-input")
    assert kind(caller.write("/api/records", {"job": {"part": {}, "service": {}}})) == (422, "bad-input")


def test_no_workspace_is_made_by_looking(tmp_path: Path, engine: Engine) -> None:
    folder = tmp_path / "not yet"
    caller = Caller(ready(create_app(Settings(workspace=folder, today=lambda: TODAY)), engine))
    for path in ("lots", "flags", "stock/verify", "rules"):
        assert caller.get(f"/api/{path}").status_code == 200
    assert caller.post("/api/pick", JOB).status_code == 200
    assert not folder.exists()
    assert caller.write("/api/lots", LOT).status_code == 200
    assert folder.is_dir()


def test_a_damaged_store_is_said(caller: Caller, tmp_path: Path) -> None:
    path = tmp_path / "ledger.sqlite3"
    path.write_bytes(b"x" + path.read_bytes()[1:])
    assert kind(caller.get("/api/lots")) == (503, "store")
    report = caller.get("/api/stock/verify")
    assert report.status_code == 503 or not report.json()["sound"]
    assert kind(caller.write("/api/lots", LOT)) == (503, "store")


def test_a_ledger_that_goes_away_is_missed_and_none_is_begun_in_its_place(caller: Caller, tmp_path: Path) -> None:
    """The folder is unmounted and comes back: nothing is lost, and no empty shelf is shown or written meanwhile."""
    assert len(caller.get("/api/lots").json()["lots"]) == 5
    path, away = tmp_path / "ledger.sqlite3", tmp_path / "away"
    path.rename(away)
    for answer in (caller.get("/api/lots"), caller.write("/api/lots", LOT)):
        assert kind(answer) == (503, "store")
    path.unlink(missing_ok=True)
    away.rename(path)
    assert len(caller.get("/api/lots").json()["lots"]) == 5
    assert caller.write("/api/lots", LOT).status_code == 200


def test_another_ledger_in_its_place_is_noticed(caller: Caller, tmp_path: Path) -> None:
    caller.get("/api/lots")
    old = (tmp_path / "ledger.sqlite3").read_bytes()
    assert caller.write("/api/lots", LOT).status_code == 200
    caller.get("/api/lots")
    (tmp_path / "ledger.sqlite3").write_bytes(old)
    answer = caller.get("/api/lots")
    assert kind(answer) == (503, "store")
    assert "is not the ledger that it was" in answer.json()["what"]


# -- what it says of itself


def test_every_document_has_the_members_that_are_described(caller: Caller) -> None:
    """Of the answers above, the outermost members: none is there that OpenAPI lacks."""
    paths = caller.get("/api/openapi.json").json()["paths"]
    addresses = [("post", a) for a in QUESTIONS] + [("get", a) for a in LOOKS if not a.startswith("check")]
    for method, address in addresses:
        answer = caller.send(method.upper(), f"/api/{address}", **({"json": JOB} if method == "post" else {})).json()
        path = "/api/" + address.partition("?")[0]
        path = "/api/items/{item}" if "items/" in path else "/api/lots/{lot}/history" if "history" in path else path
        schema = paths[path][method]["responses"]["200"]["content"]["application/json"]["schema"]
        known = [set(one["properties"]) for one in schema.get("anyOf", [schema])]
        assert any(set(answer) <= members for members in known), path


def test_a_body_is_described_as_a_job_with_units_and_closed_lists(caller: Caller) -> None:
    described = caller.get("/api/openapi.json").json()
    body = described["paths"]["/api/plan"]["post"]["requestBody"]["content"]["application/json"]["schema"]
    assert body["$ref"] == "#/components/schemas/Job"
    schemas = described["components"]["schemas"]
    assert "salt-fog" in schemas["Service"]["properties"]["exposures"]["items"]["enum"]
    assert {one["type"] for one in schemas["Peak"]["properties"]["temperature_c"]["anyOf"]} == {"number", "string"}
    for operations in described["paths"].values():
        for operation in operations.values():
            for status, response in operation["responses"].items():
                expected = "application/json" if status == "200" else "application/problem+json"
                assert list(response["content"]) == [expected]
