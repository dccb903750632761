"""The examples of docs/api.md, run as they stand against a running server."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

from kb.web.api.answers import MOST_THINGS
from kb.web.api.catalog import MOST_PAIRS_FOR_JOB
from kb.web.reckoning import MOST_ADHESIVES, MOST_MEMBERS, MOST_MENDED, MOST_SCHEDULED

DOC = Path(__file__).parent.parent.parent / "docs" / "api.md"


@pytest.fixture(scope="module")
def done(site: str, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder in which all examples were run, one after the other."""
    if shutil.which("curl") is None or shutil.which("bash") is None:
        if os.environ.get("CI") == "true":
            pytest.fail("curl is missing, and CI must run the examples")
        pytest.skip("curl is not installed")
    folder = tmp_path_factory.mktemp("calls")
    blocks = re.findall(r"```sh\n(.*?)```", DOC.read_text(), re.DOTALL)
    script = "\n".join(blocks).replace("AT=http://127.0.0.1:8765", f"AT={site}")
    run = subprocess.run(
        ["bash", "-euo", "pipefail", "-c", script], cwd=folder, capture_output=True, text=True, timeout=60, check=False
    )
    assert run.returncode == 0, run.stderr
    return folder


@pytest.mark.parametrize("name", ["plan", "explain", "compare", "estimate", "check"])
def test_each_question_is_answered(name: str, done: Path) -> None:
    assert read(done, name)["schema"] == f"tackroom.{name}/1"


def test_the_bounds_that_it_tells_are_those_of_the_code() -> None:
    told = " ".join(DOC.read_text().partition("## Bounds")[2].split())
    for bound in (
        f"{MOST_SCHEDULED:,} installations in a schedule",
        f"{MOST_PAIRS_FOR_JOB:,} pairs in a matrix for a job",
        f"{MOST_THINGS} things and {MOST_ADHESIVES} adhesives in a check",
        f"with {MOST_MEMBERS:,} pairs of members",
        f"among up to {MOST_MENDED} things",
    ):
        assert bound in told


def test_the_answers_are_those_that_are_told_of(done: Path) -> None:
    assert read(done, "plan")["outcome"] == "planned"
    assert read(done, "plan")["job"]["part"]["thickness_mm"] == 6.35
    assert read(done, "check")["verdict"] == "blocked"
    assert round(read(done, "dew-point")["result"]["dew_point_c"], 1) == 9.3
    events = [event["type"] for event in read(done, "history")["events"]]
    assert events == ["received", "opened", "used"], "what was sent twice is recorded once"
    problem = read(done, "problem")
    assert problem["detail"] == "body: [service] is missing; every job needs [part] and [service]"


def test_every_operation_is_named(site: str) -> None:
    """In words, or below `lots/LOT/`."""
    import httpx

    text = DOC.read_text()
    for path in httpx.get(f"{site}/api/openapi.json").json()["paths"]:
        name = re.sub("{(?:item|rule)}", "ID", path.removeprefix("/api/"))
        name = re.sub("{([a-z]+)}", lambda found: found[1].upper(), name)
        last = name.rpartition("/")[2]
        assert re.search(rf"`{re.escape(name)}|`{re.escape(last)}`|api/{re.escape(name.partition('/')[0])}", text), path


def read(folder: Path, name: str) -> Any:
    return json.loads((folder / f"{name}.json").read_text())
