"""The points are written where they were, and nothing else in the file changes."""

from __future__ import annotations

import datetime
import subprocess
import sys
from pathlib import Path

from kb.base.places import shipped
from kb.calibrate.fit import Fit
from kb.calibrate.rounds import Round, held_under
from kb.calibrate.written import Told, page, write_points
from kb.judged import Comparison, Side
from kb.knowledge import Knowledge
from kb.knowledge.ranking import LEVELS_FILE, load_levels

#: A comparison that any points keep: one hour against an oven, for a day.
DAY = (
    Comparison(
        id="day-on-steel",
        why="Nobody heats a part for a day.",
        basis="common-practice",
        added=datetime.date(2026, 11, 28),
        job={"part": {"substrate": "carbon-steel"}, "service": {"temperature_c": [15, 35], "duration_days": 1}},
        better=Side(adhesive=("cyanoacrylate",)),
        worse=Side(adhesive=("epoxy-heat-cure",)),
    ),
    "day-on-steel.toml",
)


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
    nowhere = str(tmp_path / "no")
    command = [sys.executable, "-m", "kb.calibrate", "--workspace", nowhere, "--dry-run", "--no-folds"]
    run = subprocess.run(command, capture_output=True, text=True, check=False, timeout=60)
    assert run.returncode == 1
    assert run.stderr == f"{nowhere}: is no folder; name the lab's workspace\n"


def test_the_page_tells_what_was_tried_and_nothing_else(knowledge: Knowledge) -> None:
    """Where nothing was left out, nothing is claimed of it."""
    levels = load_levels(shipped()[1] / LEVELS_FILE, "t")
    fit = Fit({name: level.points for name, level in levels.items()}, 0.0, {})
    best = Round(fit, held_under(knowledge, fit.points, [DAY]))
    without, with_folds = (page(Told(best, missed, {}), levels) for missed in (None, ["day-on-steel"]))
    assert "Left out" not in without
    assert "0 of 1 (0 %) are met by points that never saw them;" in with_folds
    assert f"| care | {levels['care'].what} | {levels['care'].points} |" in without
    assert "| day-on-steel |" in without
