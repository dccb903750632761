"""A PostgreSQL server of the tests' own: on a temporary disk, behind a socket, with a new database for each test."""

from __future__ import annotations

import os
import shutil
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


@contextmanager
def running() -> Iterator[Path]:
    """Run a server for as long as the tests take; gives the folder of its socket."""
    there = programs()
    assert there is not None
    folder = Path(tempfile.mkdtemp(prefix="server-"))
    # A server doesn't run as root; whoever installs it makes a user for it.
    user = "postgres" if os.geteuid() == 0 else None
    if user:
        shutil.chown(folder, user)
    begin = ("-U", "lab", "--auth=trust", "--no-sync", "-E", "UTF8", "--locale=C")
    subprocess.run([there / "initdb", "-D", folder / "data", *begin], user=user, capture_output=True, check=True)
    options = ("-F", "-c", "listen_addresses=", "-c", "max_connections=30", "-c", "shared_buffers=16MB")
    server = subprocess.Popen(
        [there / "postgres", "-D", folder / "data", "-k", folder, *options],
        user=user, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    try:
        _until_it_answers(folder, server)
        yield folder
    finally:
        server.terminate()
        server.wait(20)
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
