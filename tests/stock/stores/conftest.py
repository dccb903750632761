"""The server that the shared store is tried on."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.stock.stores import server


@pytest.fixture(scope="session")
def socket_folder() -> Iterator[Path]:
    """A server that runs; without its programs these tests are skipped, but not where all must be tried."""
    if server.programs() is None:
        if os.environ.get("CI") == "true":
            pytest.fail("PostgreSQL is not installed")
        pytest.skip("PostgreSQL is not installed")
    with server.running() as found:
        yield found.folder


@pytest.fixture
def database(socket_folder: Path) -> str:
    """The address of an empty database."""
    return server.new_database(socket_folder)


@pytest.fixture
def databases(socket_folder: Path) -> Callable[[], str]:
    """Make empty databases."""
    return lambda: server.new_database(socket_folder)
