"""The program serving: in a process of its own, as somebody starts it, or in a thread of this one."""

from __future__ import annotations

import os
import random
import signal
import socket
import subprocess
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from kb.web.app import create_app
from kb.web.connections import server_of
from kb.web.settings import Settings


def free_port() -> int:
    """A port of this machine that nobody listens on.

    Below those that a system gives to whoever calls: until the server listens, such a caller might have been given it.
    """
    while True:
        port = random.randrange(20_000, 32_000)
        with socket.socket() as probe, suppress(OSError):
            probe.bind(("127.0.0.1", port))
            return port


@contextmanager
def in_thread(settings: Settings, processes: int = 0) -> Iterator[str]:
    """The address of the application, served by a thread of this process on a free port."""
    server = server_of(create_app(settings, processes), "127.0.0.1", 0)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    until = time.monotonic() + 60
    while not server.started:
        assert time.monotonic() < until, "the server didn't start"
        time.sleep(0.02)
    try:
        yield f"http://127.0.0.1:{server.servers[0].sockets[0].getsockname()[1]}"
    finally:
        server.should_exit = True
        thread.join(20)


@contextmanager
def serving(program: Path, folder: Path, *options: str) -> Iterator[str]:
    """The address of `program serve`, in a workspace in `folder`. Ctrl-C must end it without a traceback."""
    port = free_port()
    (folder / "workspace").mkdir(exist_ok=True)
    command = [str(program), "serve", "--port", str(port), "--workspace", str(folder / "workspace"), *options]
    env = {**os.environ, "HOME": str(folder), "TACKROOM_WHO": "kim"}
    process = subprocess.Popen(command, stderr=subprocess.PIPE, text=True, cwd=folder, env=env)
    try:
        until = time.monotonic() + 180
        while socket.socket().connect_ex(("127.0.0.1", port)):
            assert process.poll() is None, process.stderr.read() if process.stderr else ""
            assert time.monotonic() < until, "it doesn't listen"
            time.sleep(0.05)
        yield f"http://127.0.0.1:{port}"
        process.send_signal(signal.SIGINT)
        _, said = process.communicate(timeout=20)
        assert f"tackroom is at http://127.0.0.1:{port}/" in said
        assert "Traceback" not in said, said
    finally:
        process.kill()
        process.wait()
