"""Work the points of the levels out anew: `python -m kb.calibrate [--workspace LAB] [--dry-run]`.

In a checkout it rewrites generic_catalog/levels.toml and docs/ranking.md; with a workspace, whose own comparisons stand
in its rules/judged/, the workspace's catalog/levels.toml.
"""

from __future__ import annotations

import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated

import typer

from kb.base.errors import BadInput, TackroomError
from kb.base.places import shipped

try:
    from kb.calibrate.fit import conflict
except ImportError:
    sys.exit("calibrate: scipy is not installed; install tackroom[calibrate]")
from kb.calibrate.rounds import best_of, calibrated, left_out
from kb.calibrate.written import Told, differences, page, write_points
from kb.judged import load_comparisons
from kb.knowledge import load
from kb.knowledge.ranking import LEVELS_FILE, load_levels
from kb.rules.form import JUDGED


def run(
    workspace: Annotated[Path | None, typer.Option(help="A lab's folder: its own comparisons count as well.")] = None,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Say what would come out, and write nothing.")] = False,
    folds: Annotated[bool, typer.Option(help="Leave a tenth out at a time, too, and tell how many are met.")] = True,
) -> None:
    """Find the points that keep every judged comparison."""
    rules, catalog = shipped()
    judged = list(load_comparisons(rules / JUDGED))
    if workspace is not None and not workspace.is_dir():
        raise BadInput(str(workspace), "is no folder", "name the lab's workspace")
    if workspace is not None:
        judged += load_comparisons(workspace / "rules" / JUDGED, house=True)
    if not judged:
        raise BadInput("rules/judged", "holds no comparisons", "see DEVELOPERS.md")
    knowledge, levels = load(workspace), load_levels(catalog / LEVELS_FILE, f"{catalog.name}/{LEVELS_FILE}")
    rounds, pool = calibrated(knowledge, levels, judged, lambda line: print(line, file=sys.stderr))
    best = best_of(rounds)
    kept = [each.comparison.id for each in best.held if each.kept]
    conflicts = {name: conflict(levels, pool.pairs(best.fit.points, [name, *kept]), name) for name in best.broken}
    missed = left_out(knowledge, levels, judged) if folds else None
    for each in best.held:
        if not each.kept:
            print(f"not kept: {each.comparison.id}, {_why_not(each.comparison.id, conflicts)}: {differences(each)}")
    print(f"{len(judged) - len(best.broken)} of {len(judged)} kept, the narrowest by {best.narrowest} points")
    if missed is not None:
        print(f"left out a tenth at a time, {len(judged) - len(missed)} of {len(judged)} are met")
    if dry_run:
        return
    target = catalog / LEVELS_FILE
    if workspace is not None:
        target = workspace / "catalog" / LEVELS_FILE
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_text((catalog / LEVELS_FILE).read_text(encoding="utf-8"), encoding="utf-8")
    else:
        docs = catalog.parent / "docs"
        if docs.is_dir():
            (docs / "ranking.md").write_text(page(Told(best, missed, conflicts), levels), encoding="utf-8")
    write_points(target, best.fit.points)
    print(f"written: {target}")


def _why_not(broken: str, conflicts: Mapping[str, list[str]]) -> str:
    others = [name for name in conflicts[broken] if name != broken]
    return f"or else not {', '.join(others)}" if others else "by no points: a fact that tells the two apart is missing"


if __name__ == "__main__":
    try:
        typer.run(run)
    except TackroomError as fault:
        sys.exit(str(fault))
