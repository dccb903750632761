"""A server of its own for each module, on a free port of this machine, and the system's Chromium to look at it."""

from __future__ import annotations

import datetime
import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from kb.web.settings import Settings
from tests.web.addresses import fill
from tests.web.serving import in_thread

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
    with in_thread(Settings(workspace=workspace, today=lambda: TODAY, who="kim")) as address:
        yield address


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
