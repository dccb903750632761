"""The points are written where they were, and nothing else in the file changes."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from kb.base.places import shipped
from kb.calibrate.written import write_points
from kb.knowledge.ranking import LEVELS_FILE, load_levels


def test_only_the_points_change(tmp_path: Path) -> None:
    shipped_file = shipped()[1] / LEVELS_FILE
    copy = tmp_path / LEVELS_FILE
    copy.write_text(shipped_file.read_text())
    levels = load_levels(copy, "t")
    write_points(copy, {name: level.points for name, level in levels.items()})
    assert copy.read_text() == shipped_file.read_text()
    write_points(copy, {name: level.points + 1 for name, level in levels.items()})
    assert {name: level.points - 1 for name, level in load_levels(copy, "t").items()} == {
        name: level.points for name, level in levels.items()
    }
    changed = [line for line in copy.read_text().splitlines() if line not in shipped_file.read_text().splitlines()]
    assert all(line.startswith("points") for line in changed)


def test_a_lab_without_a_folder_is_told(tmp_path: Path) -> None:
    run = subprocess.run(
        [sys.executable, "-m", "kb.calibrate", "--workspace", str(tmp_path / "file" / "no"), "--dry-run", "--no-folds"],
        capture_output=True,
        text=True,
        check=False,
        timeout=600,
    )
    assert "Traceback" not in run.stderr
