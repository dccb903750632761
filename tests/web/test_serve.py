"""`serve` as a process: it says where it is, answers, and ends when it is told to."""

from __future__ import annotations

import socket
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import httpx
import pytest

from kb.base.errors import BadInput
from kb.cli.web import serve
from kb.web.workers import Workers
from tests.web.serving import free_port, serving

PROGRAM = Path(sys.executable).parent / "tackroom"


def test_it_answers_until_it_is_ended(tmp_path: Path) -> None:
    with serving(PROGRAM, tmp_path) as site:
        answer = httpx.get(site, params={"part.substrate": "brass", "service.temperature_c.0": "10"}, timeout=30)
        assert answer.status_code == 200
        assert "give the lowest and the highest temperature" in answer.text
        job = {"part": {"substrate": "brass"}, "service": {"temperature_c": [10, 60]}}
        assert httpx.post(f"{site}/api/plan", json=job, timeout=30).json()["outcome"] == "planned"
    assert list((tmp_path / "workspace").iterdir()) == [], "looking at pages writes nothing"


def test_what_is_being_answered_is_answered_although_it_is_told_to_stop(tmp_path: Path) -> None:
    with ThreadPoolExecutor(1) as pool:
        with serving(PROGRAM, tmp_path, "--processes", "1") as site:
            asked = pool.submit(httpx.get, f"{site}/api/matrix?rows=degreaser&columns=coating", timeout=60)
            time.sleep(0.3)
        assert asked.result().status_code == 200


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--host", "0.0.0.0"], "--host: 0.0.0.0 can be reached from other machines, and no token is set; "),
        (["--port", "0"], "tackroom serve: Invalid value for '--port'"),
        (["--host", "no.such.name.invalid", "--port", "8799"], "--host: no.such.name.invalid can be reached"),
    ],
)
def test_what_it_refuses_is_said_in_one_line(options: list[str], said: str, tmp_path: Path) -> None:
    done = subprocess.run(
        [PROGRAM, "serve", "--workspace", tmp_path, *options], capture_output=True, text=True, check=False
    )
    assert done.returncode == 2
    assert said in done.stderr
    assert done.stderr.count("\n") == 1


def test_processes_that_do_not_start_are_not_called_a_port_that_is_taken(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async def too_many(_: Workers) -> None:
        raise BlockingIOError("no more processes")

    monkeypatch.setattr(Workers, "begin", too_many)
    with pytest.raises(BadInput, match="--processes: the processes that make long answers could not be started"):
        serve("127.0.0.1", free_port(), workspace=tmp_path, processes=1)


def test_a_port_that_is_taken_is_said_in_one_line(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        command = [str(PROGRAM), "serve", "--workspace", str(tmp_path), "--port", port]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert done.stderr.splitlines()[-1] == f"--port: 127.0.0.1:{port} can't be listened on; name another port"
    assert "Traceback" not in done.stderr
