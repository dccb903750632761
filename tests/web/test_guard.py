"""What stands before the pages and the API: who is let in, which writes, how large and how slow a body may be, and
that no name that somebody gives to a thing becomes anything but text."""

from __future__ import annotations

import base64
import csv
import datetime
import hashlib
import io
import re
import socket
import sys
import time
from collections.abc import Iterator
from html.parser import HTMLParser
from http.client import HTTPResponse
from pathlib import Path
from typing import Any
from urllib.parse import quote
from xml.etree import ElementTree

import httpx
import pytest
from fastapi import FastAPI
from starlette.requests import Request

from kb.base.errors import BadInput
from kb.cli import main
from kb.engine.check import Checked, Grid
from kb.engine.plan import Engine
from kb.report.matrix import grid_csv, grid_html
from kb.stock.flags import judged
from kb.stock.history_table import table_of
from kb.stock.interchange import brought
from kb.stock.labels import labels_html
from kb.stock.shelf_list import shelf_csv
from kb.stock.tables import defused, restored
from kb.stock.workspace import ledger_of
from kb.web import pages
from kb.web.app import create_app
from kb.web.attempts import MOST_WRONG
from kb.web.guard import CSP, HEADERS
from kb.web.session import SECRET_FILE, new_session, token_of
from kb.web.settings import Settings
from kb.web.static_files import ASK_AGAIN, FOR_GOOD, PREFIX
from tests.stock.factory import AnyItem, in_memory
from tests.web.calling import HOME, Caller, ready
from tests.web.serving import in_thread

TOKEN = "a-token-of-the-tests-own"
TODAY = datetime.date(2027, 3, 1)
JOB = {"part": {"substrate": "brass"}, "service": {"temperature_c": [10, 60]}}
QUERY = "part.substrate=brass&service.temperature_c.0=10&service.temperature_c.1=60"
SCRIPT, IMAGE = "<script>alert(1)</script>", '"><img src=x onerror=alert(1)>'
FORMULA, HEADER = '=HYPERLINK("http://elsewhere.example","x")', "A\r\nSet-Cookie: owned=1"


def settings_in(folder: Path, **more: Any) -> Settings:
    return Settings(workspace=folder, today=lambda: TODAY, who="kim", **more)


@pytest.fixture
def app(tmp_path: Path, engine: Engine) -> FastAPI:
    return ready(create_app(settings_in(tmp_path)), engine)


@pytest.fixture
def caller(app: FastAPI) -> Caller:
    return Caller(app)


def problem(answer: httpx.Response) -> tuple[int, str]:
    """The status and the kind of a problem; it must be one."""
    assert answer.headers["content-type"] == "application/problem+json"
    said = answer.json()
    assert said["status"] == answer.status_code
    assert "\n" not in said["detail"]
    return answer.status_code, said["type"].removeprefix("/problems#")


# -- who may come in


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.0.2.10", "bench.example"])
def test_beyond_this_machine_it_needs_a_token(
    host: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("TACKROOM_TOKEN", raising=False)
    with pytest.raises(BadInput):
        settings_in(tmp_path, host=host)
    monkeypatch.setattr(sys, "argv", ["tackroom", "serve", "--host", host, "--workspace", str(tmp_path)])
    with pytest.raises(SystemExit) as ended:
        main()
    assert ended.value.code == 2
    assert capsys.readouterr().err == (
        f"--host: {host} can be reached from other machines, and no token is set; "
        "set TACKROOM_TOKEN to a long random word, or listen on 127.0.0.1\n"
    )


def test_a_short_token_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="fewer than 16 characters"):
        settings_in(tmp_path, token="123456789012345")


@pytest.mark.parametrize("path", ["/", "/api/lots", "/api/openapi.json", "/problems", "/enterprise", "/nowhere"])
def test_whoever_lacks_the_token_gets_nothing(path: str, tmp_path: Path) -> None:
    caller = Caller(create_app(settings_in(tmp_path, host="0.0.0.0", token=TOKEN)))
    for headers in (
        {},
        {"Authorization": "Bearer wrong"},
        {"Authorization": TOKEN},
        {"Cookie": f"tackroom_entry={TOKEN}"},
    ):
        answer = caller.get(path, headers=headers)
        assert answer.status_code == 401
        assert answer.headers["www-authenticate"] == "Bearer"
    assert caller.get(path, headers={"Authorization": f"Bearer {TOKEN}"}).status_code in (200, 404)


def test_the_door_lets_in_with_the_token(tmp_path: Path) -> None:
    caller = Caller(create_app(settings_in(tmp_path, host="0.0.0.0", token=TOKEN)))
    assert caller.get("/enter").status_code == 200
    assert caller.get("/static/style.css").status_code == 200
    from_there = {"referer": f"{HOME}/enter?next=%2Fshelf"}
    wrong = caller.send("POST", "/enter", data={"token": "guess"}, headers=from_there)
    assert wrong.status_code == 403
    assert "That is not the token" in wrong.text
    assert 'name="onward" value="/shelf"' in wrong.text, "it leads on to where one wanted"
    assert caller.get("/").status_code == 401
    answer = caller.send("POST", "/enter", data={"token": TOKEN})
    assert answer.status_code == 303
    assert TOKEN not in answer.headers["set-cookie"]
    assert {"HttpOnly", "SameSite=strict"} <= set(answer.headers["set-cookie"].split("; "))
    assert caller.get("/").status_code == 200
    assert TOKEN not in caller.get("/").text


@pytest.mark.parametrize(
    ("address", "led_to"),
    [
        ("/?part.substrate=brass&x=1", "/?part.substrate=brass&x=1"),
        ("//elsewhere.example/", "/"),
        ("/\\elsewhere.example/", "/"),
        ("https://elsewhere.example/", "/"),
        ("/x\r\nSet-Cookie: a=b", "/"),
        ("", "/"),
    ],
)
def test_the_door_leads_on_to_the_page_that_was_asked_for_and_nowhere_else(
    address: str, led_to: str, tmp_path: Path
) -> None:
    caller = Caller(create_app(settings_in(tmp_path, host="0.0.0.0", token=TOKEN)))
    refused = caller.get("/?part.substrate=brass&x=1").text
    assert 'name="onward" value="/?part.substrate=brass&amp;x=1"' in refused
    answer = caller.send("POST", "/enter", data={"token": TOKEN, "onward": address})
    assert (answer.status_code, answer.headers["location"]) == (303, led_to)


@pytest.mark.parametrize(
    ("host", "status"),
    [
        ("localhost:8765", 200), ("127.0.0.1", 200), ("LOCALHOST", 200), ("[::1]:8765", 200), ("bench.example:1", 200),
        ("elsewhere.example", 421), ("localhost.elsewhere.example", 421), ("localhost:8765@elsewhere.example", 421),
        ("", 421), ("[::1", 421), ("[bad", 421), ("[::1]elsewhere.example", 421), ("localhost, elsewhere", 421),
        ("192.0.2.99", 421),
    ],
)  # fmt: skip
@pytest.mark.parametrize("path", ["/", "/api/session"])
def test_it_answers_only_to_its_own_names(host: str, status: int, path: str, tmp_path: Path) -> None:
    caller = Caller(create_app(settings_in(tmp_path, names=("bench.example",))))
    assert caller.get(path, headers={"Host": host}).status_code == status


def test_the_name_of_an_address_with_colons_is_in_brackets(tmp_path: Path) -> None:
    called = settings_in(tmp_path, host="2001:db8::5", token=TOKEN).called
    assert "[2001:db8::5]" in called


def test_whoever_guesses_waits(tmp_path: Path) -> None:
    app = create_app(settings_in(tmp_path, host="0.0.0.0", token=TOKEN))
    clock = [0.0]
    app.state.attempts._clock = lambda: clock[0]
    guesser = Caller(app)
    for guess in range(MOST_WRONG):
        if guess % 2:
            assert guesser.send("POST", "/enter", data={"token": f"guess {guess}"}).status_code == 403
        else:
            assert guesser.get("/", headers={"Authorization": f"Bearer {guess}"}).status_code == 401
    clock[0] = 20.0
    for answer in (
        guesser.send("POST", "/enter", data={"token": TOKEN}),
        guesser.get("/", headers={"Authorization": f"Bearer {TOKEN}"}),
    ):
        assert answer.status_code == 429
        assert answer.headers["retry-after"] == "40"
        assert_headed(answer)
    assert guesser.get("/", headers={"Cookie": "tackroom_entry=x"}).status_code == 401, "and nobody else's page is hurt"
    clock[0] = 60.5
    assert guesser.send("POST", "/enter", data={"token": TOKEN}).status_code == 303


def test_whoever_leaves_is_out(tmp_path: Path) -> None:
    caller = Caller(create_app(settings_in(tmp_path, host="0.0.0.0", token=TOKEN)))
    caller.send("POST", "/enter", data={"token": TOKEN})
    form = re.search(r'action="/leave".*?name="session_token" value="([^"]+)"', caller.get("/").text)
    assert form is not None
    assert caller.send("POST", "/leave", data={"session_token": "x"}).status_code == 403
    answer = caller.send("POST", "/leave", data={"session_token": form[1]})
    assert (answer.status_code, answer.headers["location"]) == (303, "/enter")
    assert caller.get("/").status_code == 401


def test_whether_it_lives_and_is_ready_is_told_to_everybody(tmp_path: Path) -> None:
    caller = Caller(create_app(settings_in(tmp_path, host="0.0.0.0", token=TOKEN)))
    assert (caller.get("/health").text, caller.get("/ready").text) == ("lives\n", "ready\n")
    (tmp_path / "ledger.sqlite3").write_bytes(b"not a ledger at all")
    assert caller.get("/health").status_code == 200
    assert caller.get("/ready").status_code == 503


# -- writes


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://elsewhere.example"}, {"Origin": "null"}, {"Origin": "http://[::1"}, {"Origin": ""},
        {"Origin": "https://localhost:8765"}, {"Origin": "http://localhost:9999"},
        {"Sec-Fetch-Site": "cross-site"}, {"Sec-Fetch-Site": "same-site"}, {"Sec-Fetch-Site": "none"},
        {"Sec-Fetch-Site": "cross-site", "Origin": "http://localhost:8765"},
    ],
)  # fmt: skip
@pytest.mark.parametrize("path", ["/api/plan", "/api/lots", "/enter"])
def test_a_page_of_another_site_sends_nothing(caller: Caller, headers: dict[str, str], path: str) -> None:
    answer = caller.post(path, JOB, headers=caller.session() | headers)
    assert answer.status_code == 403
    assert "another site" in answer.text


def test_a_page_of_its_own_may_write(caller: Caller) -> None:
    headers = {"Origin": "http://localhost:8765", "Sec-Fetch-Site": "same-origin"}
    body = {"item": "acetone", "lot": "A-1", "quantity": 1, "unit": "L"}
    assert caller.write("/api/lots", body, **headers).status_code == 200


def test_a_write_needs_the_token_of_its_session(app: FastAPI, caller: Caller) -> None:
    body = {"item": "acetone", "lot": "A-1", "quantity": 1, "unit": "L"}
    own, other = caller.session(), Caller(app).session()
    for token in ("", "x", other["X-Session-Token"], "\xe9"):
        headers = {"X-Session-Token": token.encode("latin-1"), "Idempotency-Key": "a-word-of-ours"}
        assert problem(caller.post("/api/lots", body, headers=headers)) == (403, "session")
    stranger = Caller(app)
    assert problem(stranger.post("/api/lots", body, headers=own)) == (403, "session")
    assert caller.get("/api/lots").json()["lots"] == []


def test_a_session_survives_odd_cookies_of_other_programs(app: FastAPI) -> None:
    caller = Caller(app)
    mine = f"tackroom_session={new_session(app.state.desk.settings.secret)}"
    odd = f'a b="; {{"x": [1,2]}}=;;; =x; {mine}; @="'
    token = caller.get("/api/session", headers={"Cookie": odd}).json()["token"]
    assert token == caller.get("/api/session", headers={"Cookie": mine}).json()["token"]


@pytest.mark.parametrize("chosen", ["mine", "mine.", ".", "\xe9", "x" * 32 + "." + "0" * 32])
def test_a_session_that_somebody_chose_is_none(chosen: str, app: FastAPI) -> None:
    """Whoever could set a victim's cookie would know its token otherwise."""
    answer = Caller(app).get("/api/session", headers={"Cookie": f"tackroom_session={chosen}".encode("latin-1")})
    made = answer.cookies["tackroom_session"]
    assert made != chosen
    assert answer.json()["token"] == token_of(made, app.state.desk.settings.secret)


def test_a_form_is_still_taken_when_the_server_was_started_anew(tmp_path: Path, engine: Engine) -> None:
    body = {"item": "acetone", "lot": "A-1", "quantity": 1, "unit": "L"}
    first = Caller(ready(create_app(settings_in(tmp_path)), engine))
    first.write("/api/lots", body)
    before = Caller(ready(create_app(settings_in(tmp_path)), engine))
    headers = before.session()
    assert (tmp_path / SECRET_FILE).stat().st_mode & 0o077 == 0
    after = Caller(ready(create_app(settings_in(tmp_path)), engine))
    after.cookies = before.cookies
    assert after.post("/api/lots/A-1/open", {}, headers=headers).status_code == 200


def test_a_name_that_turns_the_direction_of_reading_is_refused(caller: Caller) -> None:
    body = {"item": "acetone", "lot": "A-\u202e71", "quantity": 1, "unit": "L"}
    answer = caller.write("/api/lots", body)
    assert problem(answer) == (422, "bad-input")
    assert "direction of reading" in answer.json()["detail"]


# -- bodies


def test_a_body_that_says_it_is_too_large_is_not_read(tmp_path: Path) -> None:
    caller = Caller(create_app(settings_in(tmp_path, most_bytes=1000)))
    assert problem(caller.post("/api/plan", JOB | {"job": {"name": "x" * 1000}})) == (413, "too-large")
    assert caller.post("/api/plan", JOB).status_code == 200


def test_a_body_that_grows_too_large_is_stopped(tmp_path: Path) -> None:
    read = 0

    async def endless() -> Any:
        nonlocal read
        while True:
            read += 100
            yield b"x" * 100

    caller = Caller(create_app(settings_in(tmp_path, most_bytes=1000)))
    assert problem(caller.send("POST", "/api/plan", content=endless())) == (413, "too-large")
    assert read <= 1200


@pytest.fixture
def slow_port(tmp_path: Path) -> Iterator[int]:
    """A server that waits a fifth of a second for a body."""
    with in_thread(settings_in(tmp_path, most_seconds=0.2)) as site:
        yield int(site.rpartition(":")[2])


def test_a_body_that_is_too_slow_is_not_waited_for(slow_port: int) -> None:
    head = f"POST /api/plan HTTP/1.1\r\nHost: localhost:{slow_port}\r\nContent-Type: application/json\r\n"
    with socket.create_connection(("127.0.0.1", slow_port), timeout=10) as line:
        line.sendall(f"{head}Content-Length: 100\r\n\r\n".encode())
        begun = time.monotonic()
        line.sendall(b"{")
        answer = HTTPResponse(line)
        answer.begin()
        said = answer.read().decode()
        assert time.monotonic() - begun < 5
    assert answer.status == 408
    assert "/problems#too-slow" in said


# -- every answer


ANSWERS = ["/", "/nowhere", "/problems", "/static/style.css", "/static/none.css", "/api/session", "/api/none", "/enter"]


def assert_headed(answer: httpx.Response) -> None:
    kept = answer.status_code == 200 and answer.request.url.path.startswith(PREFIX) and not answer.request.url.query
    for name, value in (HEADERS | ({"Cache-Control": "no-cache"} if kept else {})).items():
        assert answer.headers[name] == value, f"{answer.request.url}: {name}"


@pytest.mark.parametrize("path", ANSWERS)
@pytest.mark.parametrize("method", ["GET", "POST", "DELETE", "OPTIONS"])
def test_every_answer_tells_the_browser_what_it_may_do(caller: Caller, path: str, method: str) -> None:
    assert_headed(caller.send(method, path))


def test_what_pages_look_like_is_kept_for_good_by_an_address_that_changes_with_it(caller: Caller) -> None:
    found = re.findall(r'(?:href|src)="(/static/[^"]+)"', caller.get("/").text)
    assert len(found) == 5
    for address in found:
        assert caller.get(address).headers["cache-control"] == FOR_GOOD
        path, _, mark = address.partition("?")
        for other in (path, f"{path}?{'0' * len(mark)}", f"{path}?{mark}&x"):
            assert caller.get(other).headers["cache-control"] == ASK_AGAIN


def test_refusals_tell_it_too(tmp_path: Path) -> None:
    caller = Caller(create_app(settings_in(tmp_path, host="0.0.0.0", token=TOKEN, most_bytes=10)))
    let_in = {"Authorization": f"Bearer {TOKEN}"}
    answers = [
        caller.get("/"),
        caller.get("/", headers={"Host": "x"}),
        caller.post("/api/plan", JOB, headers=let_in),
        caller.post("/api/plan", {}, headers=let_in | {"Origin": "x"}),
    ]
    assert [answer.status_code for answer in answers] == [401, 421, 413, 403]
    for answer in answers:
        assert_headed(answer)


@pytest.mark.parametrize("path", ["/api/broken", "/broken"])
def test_a_fault_of_the_program_tells_nothing_of_it(
    path: str, app: FastAPI, capsys: pytest.CaptureFixture[str]
) -> None:
    @app.get("/api/broken")
    @app.get("/broken")
    def broken(_: Request) -> None:
        raise RuntimeError("the secret of the house")

    answer = Caller(app).get(path)
    assert answer.status_code == 500
    assert_headed(answer)
    assert "secret" not in answer.text
    assert "Traceback" not in answer.text
    assert "the secret of the house" in capsys.readouterr().err


def test_the_policy_lets_no_script_stand_in_a_page() -> None:
    assert "unsafe" not in CSP
    assert CSP.startswith("default-src 'none'; script-src 'self'; style-src 'self';")


def _is_data(attrs: dict[str, str | None]) -> bool:
    """Whether a script element holds data only, which no browser runs."""
    return attrs.get("type") == "application/json"


class Page(HTMLParser):
    """What a browser would run or draw of a page, had it no policy."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.scripts: list[str] = []
        self.styles: list[str] = []
        self._into: list[str] | None = None
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        inline = {"style": self.styles} | (
            {} if "src" in dict(attrs) or _is_data(dict(attrs)) else {"script": self.scripts}
        )
        self._into = inline.get(tag)

    def handle_endtag(self, _: str) -> None:
        self._into = None

    def handle_data(self, data: str) -> None:
        if self._into is not None:
            self._into.append(data)


def assert_harmless(answer: httpx.Response) -> None:
    """No script or handler in the page, nothing from elsewhere, and no style but one that its policy knows."""
    page, policy = Page(answer.text), answer.headers["content-security-policy"]
    assert page.scripts == []
    assert "unsafe" not in policy
    for style in page.styles:
        assert f"'sha256-{base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()}'" in policy
    for tag, attrs in page.tags:
        assert not [name for name in attrs if name.startswith("on") or name == "style"], f"<{tag} {attrs}>"
        assert tag not in ("iframe", "object", "embed", "base")
        assert not (tag == "img" and attrs.get("src") == "x")
        for name in ("href", "src", "action"):
            assert not re.match(r"\s*(javascript|data|http)", attrs.get(name) or "", re.I), f"<{tag} {attrs}>"


def test_no_page_holds_a_script_or_a_style(caller: Caller) -> None:
    """Every page that can be asked for without knowing an id; with a job in its address and without."""
    for path in (path for path in page_paths() if "{" not in path):
        for address in (path, f"{path}?{QUERY}&item=acetone&rows=degreaser&columns=backing"):
            answer = caller.get(address)
            assert answer.status_code < 500, address
            if answer.headers["content-type"].startswith("text/html"):
                assert_harmless(answer)


def page_paths() -> list[str]:
    """The paths of all pages, those of routers in routers too."""
    found: list[str] = []
    waiting: list[Any] = list(pages.router.routes)
    while waiting:
        route = waiting.pop(0)
        waiting += getattr(getattr(route, "original_router", None), "routes", [])
        if "GET" in (getattr(route, "methods", None) or ()):
            found.append(route.path)
    assert "/" in found
    assert len(found) > 5
    return found


# -- paths


@pytest.mark.parametrize(
    "path",
    [
        "/static/../app.py", "/static/%2e%2e/app.py", "/static/..%2fapp.py", "/static/..%5capp.py",
        "/static//etc/passwd", "/static/%2fetc%2fpasswd", "/static/....//app.py", "/static/%00", "/static/",
        "/static/../../cli/app.py", "/static/..", "/static/style.css/..", "/static/style.css%00.html",
    ],
)  # fmt: skip
def test_no_path_leads_out_of_the_folder_of_looks(path: str, caller: Caller) -> None:
    """Sent as it is: httpx would tidy it."""
    answer = sent_raw(caller.app, path)
    assert answer[0] in (404, 405), path
    assert b"import" not in answer[1]
    assert b"root:" not in answer[1]


def sent_raw(app: FastAPI, path: str) -> tuple[int, bytes]:
    """The status and body for a path that no client has tidied."""
    import asyncio
    from urllib.parse import unquote

    from starlette.types import Message

    sent: list[Message] = []

    async def receive() -> Message:
        return {"type": "http.request", "body": b"", "more_body": False}

    async def send(message: Message) -> None:
        sent.append(message)

    scope = {
        "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": "GET", "scheme": "http",
        "path": unquote(path), "raw_path": path.encode(), "query_string": b"", "root_path": "",
        "headers": [(b"host", b"localhost:8765")], "client": ("127.0.0.1", 1), "server": ("127.0.0.1", 8765),
    }  # fmt: skip
    asyncio.run(app(scope, receive, send))
    body = b"".join(m.get("body", b"") for m in sent)
    return int(sent[0]["status"]), body


@pytest.mark.parametrize("lot", ["..", "../../etc/passwd", "a/b", "/", "C:\\x", "lot/history", ".hidden", "%2e%2e"])
def test_a_lot_may_be_called_like_a_path_and_is_none(lot: str, caller: Caller, tmp_path: Path) -> None:
    body = {"item": "acetone", "lot": lot, "quantity": 1, "unit": "L"}
    assert caller.write("/api/lots", body).status_code == 200
    code = quote("tackroom:lot/" + quote(lot, safe=""), safe="")
    assert caller.write(f"/api/lots/{code}/open", {}).status_code == 200
    history = caller.get(f"/api/lots/{quote(lot, safe='')}/history") if lot not in ("..", "/") else None
    assert history is None or [e["type"] for e in history.json()["events"]] == ["received", "opened"]
    made = {p.relative_to(tmp_path).parts[0] for p in tmp_path.rglob("*")}
    assert made <= {"ledger.sqlite3", "ledger.sqlite3-wal", "ledger.sqlite3-shm"}, "only the ledger was written"


# -- names


NAMES = [
    SCRIPT,
    IMAGE,
    FORMULA,
    "@SUM(1)",
    "+1",
    "-1",
    "'=1",
    HEADER,
    "{{7*7}}",
    "</title><b>",
    "a&b;",
]


@pytest.fixture
def named(caller: Caller) -> Caller:
    """A shelf whose lots, places and reasons are all called something nasty."""
    for number, name in enumerate(NAMES):
        lot = f"{name}{number}"[:60]
        body = {
            "item": "acetone",
            "lot": lot,
            "quantity": 1,
            "unit": "L",
            "location": name,
            "reason": name,
            "who": name,
        }
        assert caller.write("/api/lots", body).status_code == 200, name
    return caller


def test_nasty_names_are_text_in_every_page_about_them(named: Caller) -> None:
    lots = [row["lot"] for row in named.get("/api/lots").json()["lots"]]
    assert len(lots) == len(NAMES)
    for path in page_paths():
        fills = [quote(lot, safe="") for lot in lots[:3]] if "{" in path else [""]
        for fill in fills:
            answer = named.get(re.sub(r"{[^}]*}", fill, path))
            assert answer.status_code < 500, path
            assert_unbroken(answer)


@pytest.mark.parametrize("name", NAMES)
def test_a_nasty_job_or_part_is_text_in_pages(name: str, caller: Caller) -> None:
    about = f"{QUERY}&job.name={quote(name)}"
    odd = f"part.substrate={quote(name)}&service.temperature_c.0=10&service.temperature_c.1=60&prefer={quote(name)}"
    for query in (about, odd, f"{about}&before={quote(name)}&item={quote(name)}&chain={quote(name)}"):
        for path in ("/", "/choose/answer", f"/{quote(name, safe='')}", "/amounts", "/sheet", "/approval", "/pictures"):
            answer = caller.get(f"{path}?{query}")
            assert answer.status_code < 500, path
            assert_unbroken(answer)


def assert_unbroken(answer: httpx.Response) -> None:
    """Whatever was answered runs nothing, and no name has become a field of the answer's head."""
    assert "owned" not in answer.headers.get("set-cookie", "")
    kind = answer.headers.get("content-type", "")
    if kind.startswith("text/html"):
        assert_harmless(answer)
        assert "</title><b>" not in answer.text
    elif "svg" in kind:
        assert_harmless_svg(answer.text)
    elif kind.startswith("text/csv"):
        assert_no_formula(answer.text)


def assert_harmless_svg(text: str) -> None:
    for element in ElementTree.fromstring(text).iter():
        tag = str(element.tag).rpartition("}")[2]
        assert tag not in ("script", "foreignObject", "image", "a", "use")
        assert not [name for name in element.attrib if name.lower().startswith("on") or "href" in name]


def assert_no_formula(text: str) -> None:
    for row in csv.reader(io.StringIO(text)):
        for cell in row:
            number = re.fullmatch(r"-?[\d.]+", cell)
            assert number or not re.match(r"[=+\-@\t\r＝＋－＠]", cell), row


def test_nasty_names_are_text_in_json(named: Caller) -> None:
    answer = named.get("/api/lots")
    assert answer.headers["content-type"] == "application/json"
    found = {row["location"] for row in answer.json()["lots"]}
    assert SCRIPT in found
    assert FORMULA in found
    assert "A Set-Cookie: owned=1" in found


def test_a_job_with_a_nasty_name_is_planned_and_told(caller: Caller) -> None:
    for name in NAMES:
        answer = caller.post("/api/plan", JOB | {"job": {"name": name}})
        assert answer.json()["job"]["job"]["name"] == name
        assert problem(caller.post("/api/plan", JOB | {"part": {"substrate": name}})) == (422, "bad-input")
        asked = caller.get("/api/identify", params={"words": name})
        assert asked.status_code == 200
        assert problem(caller.get(f"/api/items/{quote(name, safe='')}"))[0] in (404, 422)


@pytest.mark.parametrize("name", NAMES)
def test_tables_that_a_spreadsheet_opens_hold_no_formula(name: str) -> None:
    lot = {"type": "received", "at": "2027-03-01", "who": name, "lot": name, "item": "acetone", "quantity": "5"}
    ledger = in_memory({**lot, "unit": "mL", "location": name, "reason": name, "storage_c": -18})
    history, shelf = table_of(ledger.documents("stock")), shelf_csv(ledger.shelf().lots.values())
    for text in (history, shelf):
        assert_no_formula(text)
    [again] = brought(history.encode(), "in.csv", AnyItem(), "2027-03-01", "kim").history
    assert again == ledger.documents("stock")[0], "what was made harmless is read back as it was"
    [came] = brought(shelf.encode(), "in.csv", AnyItem(), "2027-03-01", "kim").drafts
    assert (came["lot"], came["location"], came["storage_c"]) == (again["lot"], again["location"], -18)


@pytest.mark.parametrize("cell", ["", "acetone", "=1", "'=1", "''=1", "'", "'x", "-18", "＝1", "\t=1", "@"])
def test_what_is_made_harmless_is_restored(cell: str) -> None:
    assert restored(defused(cell)) == cell
    assert not re.match(r"[=+\-@\t\r＝＋－＠]", defused(cell))


def test_a_grid_of_nasty_names_is_text() -> None:
    cells = [[Checked((name, name), "compatible", ()) for _ in NAMES] for name in NAMES]
    grid = Grid(("substrate", "adhesive"), NAMES, NAMES, cells)
    assert_no_formula(grid_csv(grid))
    page = Page(grid_html(grid))
    assert not [tag for tag, attrs in page.tags if tag in ("img", "script") or "onerror" in attrs]


def test_labels_and_pictures_of_nasty_lots_are_text(named: Caller, tmp_path: Path) -> None:
    from kb.report.pictures.shelf import expiry_picture

    desk = named.app.state.desk
    lots = judged(ledger_of(tmp_path).shelf(), desk.items().facts, "2027-03-01")
    page = Page(labels_html(lots, desk.items().name, desk.items().facts))
    assert not [attrs for tag, attrs in page.tags if tag in ("img", "script", "b") or "onerror" in attrs]
    assert_harmless_svg(expiry_picture(lots, "2027-03-01").svg)


def test_the_documents_of_writes_stand_once(caller: Caller) -> None:
    """Sent twice, recorded once; the same word for something else is refused; a failure uses up no word."""
    body = {"item": "acetone", "lot": "A-1", "quantity": 1, "unit": "L"}
    assert problem(caller.write("/api/lots", {**body, "unit": "?"}, **{"Idempotency-Key": "word-one"}))[0] == 422
    first = caller.write("/api/lots", body, **{"Idempotency-Key": "word-one"})
    again = caller.write("/api/lots", body, **{"Idempotency-Key": "word-one"})
    assert first.json() == again.json()
    assert "idempotency-replayed" not in first.headers
    assert again.headers["idempotency-replayed"] == "true"
    assert problem(caller.write("/api/lots", {**body, "lot": "A-2"}, **{"Idempotency-Key": "word-one"}))[0] == 422
    assert problem(caller.write("/api/lots/A-1/open", {}, **{"Idempotency-Key": "word-one"}))[0] == 422
    assert len(caller.get("/api/lots/A-1/history").json()["events"]) == 1
    headers = caller.session()
    del headers["Idempotency-Key"]
    answer = caller.post("/api/lots", body, headers=headers)
    assert problem(answer) == (422, "bad-input")
    assert "Idempotency-Key: is missing; send a word of your own" in answer.json()["detail"]
