"""What a planned job will ask of the shelf: its day, and the items of the chain that suits it best."""

from __future__ import annotations

from pathlib import Path

from kb import knowledge
from kb.base.errors import BadInput
from kb.engine.plan import Engine
from kb.job import read_job
from kb.planning.ask import ask


def needs_of(path: Path, workspace: Path | None) -> tuple[str, frozenset[str]]:
    """The day of the job in the file, and the item ids of its first chain (none, where no chain suits).

    Raises BadInput where the job can't be read or has no day.
    """
    job = read_job(path)
    if job.job.planned_on is None:
        raise BadInput(f"{path}: job.planned_on", "is missing", "give the day of the job")
    known = knowledge.load(workspace)
    chains = ask(Engine(known), job, str(path), 1).plan.chains
    items = frozenset(pick.entry.id for chain in chains for pick in chain.picks if pick.entry is not None)
    return job.job.planned_on.isoformat(), items
