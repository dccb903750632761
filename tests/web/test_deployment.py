"""The page about a server of the lab: its drill restores a backup, and what it says of roles is what they may."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

from kb.stock.backup import backup
from kb.stock.workspace import ledger_of
from kb.work.people import MAY, People
from tests.stock.factory import received, record

DOC = Path(__file__).parent.parent.parent / "docs" / "deployment.md"


def test_the_drill_restores_ledger_and_people(tmp_path: Path) -> None:
    lab = tmp_path / "lab"
    record(lab, [received("A")])
    People(lab).add("kim", "approver", "three words and more", "kim", "2027-03-01")
    backup(ledger_of(lab), lab, tmp_path / "copy.sqlite3")
    (drill,) = re.findall(r"<!-- drill -->\n```sh\n(.*?)```", DOC.read_text(), re.DOTALL)
    env = {**os.environ, "BACKUP": "copy.sqlite3", "PATH": f"{Path(sys.executable).parent}:{os.environ['PATH']}"}
    done = subprocess.run(
        ["bash", "-euo", "pipefail", "-c", drill], cwd=tmp_path, env=env, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.endswith("kim: approver\n")
    assert People(tmp_path / "drill").known("kim", "three words and more") is not None
    assert list(ledger_of(tmp_path / "drill").shelf().lots) == ["A"]


def test_every_role_has_its_row() -> None:
    told = DOC.read_text()
    assert list(re.findall(r"^\| `([a-z-]+)` \|", told, re.MULTILINE)) == list(MAY)
