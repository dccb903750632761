"""A PostgreSQL server of the tests' own: on a temporary disk, behind a socket, with a new database for each test."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import count
from pathlib import Path

import psycopg

_numbers = count(1)


def programs() -> Path | None:
    """Where the server's programs are; None where there are none."""
    found = [Path(path).parent for name in ("postgres",) if (path := shutil.which(name))]
    installed = sorted(Path("/usr/lib/postgresql").glob("*/bin"))
    there = [folder for folder in (*found, *reversed(installed)) if (folder / "initdb").exists()]
    return there[0] if there else None


class Server:
    """A server that can be killed with everything in it, and started again on the same disk."""

    def __init__(self, folder: Path) -> None:
        there = programs()
        assert there is not None
        self.folder, self._there = folder, there
        # A server doesn't run as root; whoever installs it makes a user for it.
        self._user = "postgres" if os.geteuid() == 0 else None
        if self._user:
            shutil.chown(folder, self._user)
        begin = ("-U", "lab", "--auth=trust", "--no-sync", "-E", "UTF8", "--locale=C")
        subprocess.run(
            [there / "initdb", "-D", folder / "data", *begin], user=self._user, capture_output=True, check=True
        )

    def start(self) -> None:
        """Start it; it answers when this returns."""
        options = ("-F", "-c", "listen_addresses=", "-c", "max_connections=30", "-c", "shared_buffers=16MB")
        self._process = subprocess.Popen(
            [self._there / "postgres", "-D", self.folder / "data", "-k", self.folder, *options],
            user=self._user, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True,
        )  # fmt: skip
        _until_it_answers(self.folder, self._process)

    def kill(self) -> None:
        """End it and all its processes at once, in the middle of whatever they do."""
        os.killpg(self._process.pid, signal.SIGKILL)
        self._process.wait()

    def stop(self) -> None:
        self._process.terminate()
        self._process.wait(20)


@contextmanager
def running() -> Iterator[Server]:
    """Run a server for as long as the tests take."""
    folder = Path(tempfile.mkdtemp(prefix="server-"))
    try:
        found = Server(folder)
        found.start()
        try:
            yield found
        finally:
            found.stop()
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _until_it_answers(folder: Path, server: subprocess.Popen[bytes]) -> None:
    until = time.monotonic() + 30
    while True:
        try:
            psycopg.connect(address(folder, "postgres")).close()
        except psycopg.OperationalError:
            assert server.poll() is None, "the server ended"
            assert time.monotonic() < until, "the server does not answer"
            time.sleep(0.05)
        else:
            return


def address(folder: Path, database: str) -> str:
    """The address of a database of the server whose socket is in a folder."""
    return f"postgresql://lab@/{database}?host={folder}"


def new_database(folder: Path) -> str:
    """Make an empty database; gives its address."""
    name = f"lab{next(_numbers)}"
    with psycopg.connect(address(folder, "postgres"), autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}")
    return address(folder, name)
