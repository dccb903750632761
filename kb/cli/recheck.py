"""The command `recheck`: what was chosen or made earlier, against the knowledge of today."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from kb.base.errors import ACT
from kb.cli.common import AsJson, Workspace, known_by_lab, print_json, print_text
from kb.cli.stock_common import open_ledger


def recheck(
    jobs: Annotated[list[Path], typer.Argument(metavar="JOB", help="Job files: their choices, and what was recorded.")],
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """Say of what jobs chose, and of what was made for them, whether it is refused now or no longer first."""
    from kb.engine.plan import Engine
    from kb.job import read_job
    from kb.report.rechecking import recheck_json, recheck_text
    from kb.work.rechecking import recheck as look

    engine, records = Engine(known_by_lab(workspace)), open_ledger(workspace).documents("work")
    found = [one for path in jobs for one in look(engine, read_job(path), str(path), records)]
    print_json(recheck_json(found)) if as_json else print_text(recheck_text(found))
    if any(one.verdict in ("refused", "unknown-item") for one in found):
        raise typer.Exit(ACT)
