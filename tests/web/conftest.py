"""A server of its own for each module, on a free port of this machine, and the system's Chromium to look at it."""

from __future__ import annotations

import datetime
import os
import shutil
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import uvicorn

from kb.web.app import create_app
from kb.web.settings import Settings
from tests.web.addresses import fill

TODAY = datetime.date(2027, 3, 1)
#: The browser that the tests drive goes nowhere but to the page.
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


@pytest.fixture(scope="module")
def workspace(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The shelf of the invented lab."""
    found = tmp_path_factory.mktemp("workspace")
    fill(found)
    return found


@pytest.fixture(scope="module")
def site(workspace: Path) -> Iterator[str]:
    """The address of a running server."""
    settings = Settings(workspace=workspace, today=lambda: TODAY, who="kim")
    config = uvicorn.Config(create_app(settings), port=0, log_level="error", access_log=False)
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    until = time.monotonic() + 20
    while not server.started:
        assert time.monotonic() < until, "the server didn't start"
        time.sleep(0.02)
    port = server.servers[0].sockets[0].getsockname()[1]
    yield f"http://127.0.0.1:{port}"
    server.should_exit = True
    thread.join(10)


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    """The system's Chromium. Without it a test is skipped, except where CI must have it."""
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None:
        if os.environ.get("CI") == "true":
            pytest.fail("Chromium is missing, and CI must look at the pages: .ci/run installs it")
        pytest.skip("Chromium is not installed, so the pages can't be looked at")
    sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    with sync_api.sync_playwright() as play:
        browser = play.chromium.launch(executable_path=found, args=list(FLAGS))
        yield browser
        browser.close()
