"""What commands about a job share: the job planned as its choice and the lab's shelf want it, and its day."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from kb.base.places import keeps_ledger
from kb.cli.common import job_in, known_by_lab, workspace_of
from kb.cli.stock_common import moment, open_items, open_ledger

if TYPE_CHECKING:
    from collections.abc import Callable

    from kb.engine.plan import Engine, Yields
    from kb.job import Job
    from kb.planning.ask import Asked
    from kb.planning.shelf import Shelf


def day_of(job: Job, on: str | None) -> str:
    """Tell the day of the work: as given, or the job's, or today."""
    planned = job.job.planned_on
    return moment(on or (planned.isoformat() if planned else None), "--on", ahead=True)[:10]


def offered_shelf(job: Job, on: str | None, workspace: Path | None) -> Shelf:
    """Give what may be used from the workspace's shelf on the day of the work."""
    from kb.stock.flags import judged
    from kb.work.preference import offered

    day, ledger = day_of(job, on), open_ledger(workspace)
    return offered(judged(ledger.shelf(), open_items(workspace, ledger).facts, day), day)


def planned(
    path: Path,
    workspace: Path | None,
    top: int,
    change: Callable[[Job], Job] | None = None,
    engine: Engine | None = None,
) -> Asked:
    """Plan the job in a file, changed where `change` is given, with its `top` best chains.

    `engine` is the one of a plan that the same command has made before.
    """
    from kb.engine.plan import Engine
    from kb.planning.ask import ask, prefers_stock

    job = job_in(path)
    job = job if change is None else change(job)
    shelf = None
    if prefers_stock(job, None):
        shelf = offered_shelf(job, None, workspace)
    yields = yields_of(job, workspace)
    return ask(engine or Engine(known_by_lab(workspace)), job, str(path), top, shelf=shelf, yields=yields)


def yields_of(job: Job, workspace: Path | None) -> Yields:
    """Give what the lab's record says of each chain's yield; nothing where nothing was ever recorded."""
    folder = workspace_of(workspace)
    # What an earlier version recorded is taken over where it is first asked for.
    earlier = folder is not None and (folder / "installations").exists()
    if not earlier and not keeps_ledger(folder):
        return {}
    from kb.work.installations import counted, yields_by

    return yields_by(counted(open_ledger(workspace).documents("work")), job.batch.expected_yield)
