"""Long answers made by processes of their own: the same answers, one queue with an end, and short ones meanwhile."""

from __future__ import annotations

import asyncio
import os
import signal
import socket
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path
from typing import Any

import httpx
import pytest
from starlette.types import Message, Scope

from kb.stock.workspace import ledger_of
from kb.web import api, lanes, pages, workers
from kb.web.app import create_app
from kb.web.guard import HEADERS
from kb.web.lanes import Lane
from kb.web.settings import Settings
from kb.web.workers import Answer, Heavy, HeavyAnyway, Worker, Workers
from kb.work.people import People
from tests.web.addresses import BOARD, BRACKET, fill
from tests.web.calling import Caller, routes_below
from tests.web.serving import in_thread

JOB = {"part": {"substrate": "brass"}, "service": {"temperature_c": [10, 60]}}
GRID = "/api/matrix?rows=adhesive&columns=coating"


@pytest.fixture(scope="module")
def site(workspace: Path) -> Iterator[httpx.Client]:
    """A server with one process for long answers."""
    with in_thread(Settings(workspace=workspace, who="kim"), 1) as address, httpx.Client(base_url=address) as client:
        client.timeout = httpx.Timeout(60)
        yield client


def test_an_answer_made_elsewhere_is_the_answer(site: httpx.Client, workspace: Path) -> None:
    here = Caller(create_app(Settings(workspace=workspace, who="kim")))
    assert site.post("/api/plan", json=JOB).json() == here.post("/api/plan", JOB).json()
    assert site.post("/api/plan", json=JOB | {"part": {"substrate": "qqq"}}).status_code == 422
    for path in (f"/amounts?{BOARD}", f"/timeline?{BOARD}", f"/pick?{BOARD}", f"/sheet?{BOARD}", "/why?item=x"):
        found, own = site.get(path), here.get(path)
        assert (found.status_code, len(found.text)) == (own.status_code, len(own.text)), path
        for name, value in HEADERS.items():
            if name != "Content-Security-Policy":
                assert found.headers[name] == value
        assert found.headers["Content-Security-Policy"] == own.headers["Content-Security-Policy"]


def test_a_write_made_elsewhere_is_of_its_session_and_done_once(site: httpx.Client) -> None:
    token = site.get("/api/session").json()["token"]
    headers = {"X-Session-Token": token, "Idempotency-Key": "kept-for-the-board"}
    body = {"job": JOB | {"job": {"name": "brass plate"}}}
    assert site.post("/api/reservations", json=body, headers=headers | {"X-Session-Token": "x"}).status_code == 403
    first = site.post("/api/reservations", json=body, headers=headers)
    again = site.post("/api/reservations", json=body, headers=headers)
    assert (first.status_code, first.json()) == (200, again.json())
    assert again.headers["idempotency-replayed"] == "true"


def test_the_processes_keep_to_the_roles(tmp_path: Path) -> None:
    fill(tmp_path)
    for role in ("reader", "bench"):
        People(tmp_path).add(role, role, "three words and more", "kim", "2027-03-01")
    body = {"job": JOB | {"job": {"name": "brass plate"}}, "who": "somebody else"}
    statuses = {}
    with in_thread(Settings(workspace=tmp_path), 1) as address:
        for role in ("reader", "bench"):
            with httpx.Client(base_url=address, timeout=60) as client:
                client.post("/enter", data={"name": role, "password": "three words and more"})
                headers = {
                    "X-Session-Token": client.get("/api/session").json()["token"],
                    "Idempotency-Key": "keep-it-so",
                }
                statuses[role] = client.post("/api/reservations", json=body, headers=headers).status_code
    assert statuses == {"reader": 403, "bench": 200}
    assert [one["who"] for one in ledger_of(tmp_path).documents("work")] == ["bench"]


def test_the_queue_has_an_end_and_short_answers_are_given_meanwhile(
    site: httpx.Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(workers, "MOST_WAITING", 1)
    with ThreadPoolExecutor(6) as pool:
        asked = [pool.submit(site.get, GRID) for _ in range(6)]
        time.sleep(0.1)
        assert site.get("/health").status_code == 200
        assert site.get("/shelf").status_code == 200
        assert not all(one.done() for one in asked), "short ones are given before the long one is made"
        answers = [one.result() for one in asked]
    refused = [answer for answer in answers if answer.status_code == 503]
    assert 1 <= len(refused) <= 5
    assert {answer.json()["type"] for answer in refused} == {"/problems#busy"}
    assert all(answer.headers["retry-after"] == "5" for answer in refused)
    assert all(answer.headers["x-frame-options"] == "DENY" for answer in refused)
    assert {answer.status_code for answer in answers} == {200, 503}


def test_whoever_waits_too_long_is_told_so(site: httpx.Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(lanes, "TURN_S", 0.05)
    with ThreadPoolExecutor(3) as pool:
        statuses = [one.result().status_code for one in [pool.submit(site.get, GRID) for _ in range(3)]]
    assert 503 in statuses
    assert 200 in statuses


def test_an_answer_that_takes_too_long_is_given_up(site: httpx.Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(workers, "MOST_S", 0.1)
    answer = site.get(GRID)
    assert (answer.status_code, answer.json()["type"]) == (503, "/problems#too-long")
    monkeypatch.undo()
    assert site.post("/api/plan", json=JOB).status_code == 200, "and another process takes the place of the one ended"


def test_nobody_works_for_those_who_have_gone(site: httpx.Client) -> None:
    host, port = site.base_url.host, int(site.base_url.port or 0)
    for _ in range(20):
        with socket.create_connection((host, port)) as line:
            line.sendall(f"GET {GRID} HTTP/1.1\r\nHost: {host}\r\n\r\n".encode())
    begun = time.monotonic()
    assert site.post("/api/plan", json=JOB).status_code == 200
    waited = time.monotonic() - begun
    begun = time.monotonic()
    assert site.get(GRID).status_code == 200
    assert waited < 8 * (time.monotonic() - begun) + 2, "the twenty before it were made although nobody waited"


def test_the_processes_end_with_the_server(tmp_path: Path) -> None:
    def children() -> set[str]:
        found: set[str] = set()
        for task in Path(f"/proc/{os.getpid()}/task").iterdir():
            with suppress(OSError):  # a thread that ended meanwhile has none
                found.update((task / "children").read_text().split())
        return found

    if not Path("/proc/self/task").is_dir():
        pytest.skip("this system doesn't tell the children of a process")
    before = children()
    with in_thread(Settings(workspace=tmp_path), 2) as address:
        with httpx.Client(base_url=address, timeout=60) as client:
            form = {"session_token": client.get("/api/session").json()["token"], "once": "a-word-of-ours"}
            brought = client.post(
                "/job", data=form, files={"file": b"[part]\nsubstrate = 'brass'\n[service]\ntemperature_c = [10, 60]\n"}
            )
            assert brought.status_code == 303, "a token is one to the processes, too, where no key is kept"
        made = children() - before
        assert len(made) >= 2
        assert httpx.get(f"{address}/?part.substrate=brass", timeout=60).status_code == 200
        killed = next(child for child in sorted(made) if b"spawn_main" in Path(f"/proc/{child}/cmdline").read_bytes())
        os.kill(int(killed), signal.SIGKILL)
        codes = [httpx.get(f"{address}/?part.substrate=brass&x={n}", timeout=60).status_code for n in range(4)]
        assert codes[-1] == 200, "one that was killed is replaced"
    until = time.monotonic() + 20
    while time.monotonic() < until and any(
        b"spawn_main" in Path(f"/proc/{c}/cmdline").read_bytes() for c in children() - before
    ):
        time.sleep(0.1)
    left = [c for c in children() - before if b"spawn_main" in Path(f"/proc/{c}/cmdline").read_bytes()]
    assert left == []
    assert threading.active_count() < 50


class Slow(Worker):
    """One that takes its time."""

    def ask(self, asked: tuple[Scope, bytes] | None, within: float) -> Any:
        time.sleep(min(0.3, within))
        return asked and asked[1]


def test_one_whose_asker_was_given_up_is_free_only_when_it_is_done(tmp_path: Path) -> None:
    """Else the next who asks would be given the answer of the one before."""

    async def given_up() -> tuple[bool, bool, Any]:
        settings = Settings(workspace=tmp_path)
        found, nobody = Workers(create_app, settings, 1), asyncio.get_running_loop().create_future()
        lane = Lane[Worker]([Slow(create_app, settings)])
        first = asyncio.ensure_future(found.in_turn({}, b"first", nobody, lane))
        await asyncio.sleep(0.1)
        first.cancel()
        await asyncio.sleep(0.05)
        before = lane.free == 0
        second = await found.in_turn({}, b"second", nobody, lane)
        await asyncio.sleep(0)
        return before, lane.free == 1, second

    assert asyncio.run(given_up()) == (True, True, b"second")


def test_what_takes_long_holds_up_no_plan_and_stands_back(workspace: Path) -> None:
    """Else whoever asks for a plan waits for what others' answers hang on."""
    if not Path("/proc/self/task").is_dir():
        pytest.skip("this system doesn't tell the children of a process")
    with in_thread(Settings(workspace=workspace), 1) as address, httpx.Client(base_url=address, timeout=60) as client:
        with ThreadPoolExecutor(1) as pool:
            grid = pool.submit(client.get, GRID)
            time.sleep(0.05)
            assert client.post("/api/plan?hangs_on=false", json=JOB).status_code == 200
            assert not grid.done()
            kin = Path(f"/proc/{os.getpid()}/task").glob("*/children")
            levels = {os.getpriority(os.PRIO_PROCESS, int(child)) for each in kin for child in each.read_text().split()}
        assert grid.result().status_code == 200
    own = os.getpriority(os.PRIO_PROCESS, 0)
    assert {own, own + workers.STANDS_BACK} <= levels


@pytest.mark.parametrize(
    ("query", "body", "large"),
    [
        (BRACKET, b"", False),
        (BRACKET.replace("batch.boards=3", "batch.boards=1200"), b"", True),
        ("", b'{"batch": {"boards": 25, "gauges_per_board": 20}}', False),
        ("", b'{"batch": {"boards": 25, "gauges_per_board": 21}}', True),
    ],
)
def test_a_large_batch_holds_up_no_plan(
    query: str, body: bytes, large: bool, workspace: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Fifty schedules of thousands of gauges made everybody wait who only asked for a plan."""
    found, took = Workers(create_app, Settings(workspace=workspace), 1), list[Lane[Worker]]()

    async def in_turn(*asked: Any) -> Answer:
        took.append(asked[-1])
        return Answer(200, [], b"")

    async def receive() -> Message:
        return {"type": "http.request", "body": body}

    async def send(_: Message) -> None: ...

    monkeypatch.setattr(found, "in_turn", in_turn)
    scope = {"type": "http", "method": "POST", "path": "/", "query_string": query.encode(), "headers": []}
    asyncio.run(found.answer(scope, receive, send))
    assert took == [found.lasting if large else found.quick]


def test_every_answer_that_needs_a_plan_or_a_grid_is_made_so() -> None:
    routes = [*routes_below(pages.router), *routes_below(api.router, "/api")]
    heavy = {path for path, route in routes if isinstance(route, Heavy)}
    assert {
        "/", "/choose/answer", "/amounts", "/timeline", "/room", "/pick", "/record", "/why", "/refused", "/compare",
        "/pair", "/matrix", "/coverage", "/sheet", "/approval", "/pictures", "/bench-run", "/api/plan", "/api/check",
        "/api/estimate", "/api/timeline", "/api/pick", "/api/records", "/api/matrix", "/api/explain",
    } <= heavy  # fmt: skip
    assert {path for path, route in routes if isinstance(route, HeavyAnyway)} == {"/matrix", "/api/matrix"}
    assert not heavy & {"/health", "/ready", "/enter", "/shelf", "/api/lots", "/catalog"}
