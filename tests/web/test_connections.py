"""The server on real sockets: what says nothing is shed, and whoever asks is answered meanwhile."""

from __future__ import annotations

import socket
import time
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import httpx
import pytest

from kb.web import connections
from kb.web.settings import Settings
from tests.web.serving import in_thread

HALF = b"GET / HTTP/1.1\r\nHost: localhost\r\nX-Slow: "


@pytest.fixture
def port(tmp_path: Path) -> Iterator[int]:
    with in_thread(Settings(workspace=tmp_path)) as site:
        yield int(site.rpartition(":")[2])


def half_open(port: int, upto: bytes = HALF) -> socket.socket:
    """A connection that has begun to ask and says no more."""
    line = socket.create_connection(("127.0.0.1", port), timeout=10)
    line.sendall(upto)
    return line


def ended(line: socket.socket) -> bool:
    """Whether the other side closed it."""
    try:
        return line.recv(1) == b""
    except ConnectionError:
        return True


def test_others_are_answered_while_600_have_begun_to_ask(port: int) -> None:
    with ExitStack() as lines:
        for number in range(600):
            lines.enter_context(half_open(port, HALF if number % 2 else b""))
            if number % 100 == 0:
                assert httpx.get(f"http://127.0.0.1:{port}/health", timeout=20).status_code == 200
        for path in ("/health", "/problems", "/shelf", "/api/session"):
            assert httpx.get(f"http://127.0.0.1:{port}{path}", timeout=20).status_code == 200


def test_what_is_shed_is_what_has_never_asked(port: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(connections, "MOST_OF_ONE", 3)
    with (
        httpx.Client(base_url=f"http://127.0.0.1:{port}") as known,
        half_open(port) as first,
        half_open(port) as second,
    ):
        assert known.get("/health").status_code == 200
        own = known._transport._pool.connections[0]  # type: ignore[attr-defined]
        with half_open(port):
            assert ended(first), "the oldest that has never asked"
            assert known.get("/health").status_code == 200
            assert known._transport._pool.connections == [own], "by the connection that was there"  # type: ignore[attr-defined]
        second.sendall(b"x\r\n\r\n")
        assert second.recv(12).startswith(b"HTTP/1.1 200")


@pytest.mark.parametrize("begun", [b"", HALF])
def test_a_head_must_come_within_its_time(begun: bytes, port: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(connections, "HEAD_S", 0.5)
    with half_open(port, begun) as line:
        came = time.monotonic()
        for _ in range(20):
            try:
                line.sendall(b"x")  # a letter now and then gives no more time
            except ConnectionError:
                break
            time.sleep(0.1)
        assert ended(line)
        assert time.monotonic() - came < 5


def test_the_next_head_of_a_connection_must_too(port: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(connections, "HEAD_S", 0.5)
    with half_open(port, b"GET /health HTTP/1.1\r\nHost: localhost\r\n\r\n") as line:
        answer = b""
        while not answer.endswith(b"lives\n"):
            answer += line.recv(4000)
        time.sleep(0.8)
        line.sendall(b"GET /health HTTP/1.1\r\n")  # between two requests it may wait longer
        came = time.monotonic()
        assert ended(line)
        assert 0.3 < time.monotonic() - came < 5
