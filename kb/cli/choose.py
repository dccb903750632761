"""The command `choose`: a chain is written into the job file, and every later command follows it."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import Annotated, Any

import typer

from kb.base import disk
from kb.base.errors import BadInput
from kb.cli.common import AsJson, OnDay, Workspace, print_json, print_text
from kb.cli.planned import planned
from kb.cli.stock_common import moment

_TABLE = "choose"


def choose(
    job: Annotated[Path, typer.Argument(help="The job file (TOML).")],
    rank: Annotated[int, typer.Argument(min=1, max=100, help="Which of its chains is to be kept.")] = 1,
    undo: Annotated[bool, typer.Option("--undo", help="Take the choice out of the job file.")] = False,
    on: OnDay = None,
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """Keep a chain for a job: write it into the job file, so that every later command and page follows it."""
    import tomlkit

    from kb.base.files import read_toml
    from kb.job import Choose
    from kb.planning.ask import ask
    from kb.planning.choice import choice_of

    if str(job) == "-":
        raise BadInput("choose", "standard input can't be written to", "name a job file")
    read_toml(job)  # says in one line what is wrong with the file
    document = tomlkit.parse(job.read_text(encoding="utf-8-sig"))
    if undo:
        if _TABLE not in document:
            raise BadInput(str(job), "has no [choose]", "there is nothing to take out")
        del document[_TABLE]
        _put(job, tomlkit.dumps(document))
        _say({"schema": "tackroom.choose/1", "job": str(job), "choose": None}, "The choice is taken out.", as_json)
        return
    # What was chosen before has no say in what there is to choose from.
    kept = planned(job, workspace, 1)
    free = kept.job.model_copy(update={"choose": Choose(prefer=kept.job.choose.prefer)})
    asked = (
        ask(kept.engine, free, str(job), max(3, rank))
        if kept.job.choose.pins
        else planned(job, workspace, rank, engine=kept.engine)
    )
    table = choice_of(
        asked.chain(rank), asked.engine.knowledge, datetime.date.fromisoformat(moment(on, "--on", ahead=True)[:10])
    )
    before = dict(document.get(_TABLE, {}))
    document[_TABLE] = {**{name: before[name] for name in ("prefer", "stock") if name in before}, **table}
    _put(job, tomlkit.dumps(document))
    shown = {name: value.isoformat() if isinstance(value, datetime.date) else value for name, value in table.items()}
    words = f"Kept in {job}: chain {rank}. Every later command follows it; `choose {job} --undo` takes it out."
    _say({"schema": "tackroom.choose/1", "job": str(job), "choose": shown}, words, as_json)


def _say(document: dict[str, Any], words: str, as_json: bool) -> None:
    print_json(document) if as_json else print_text(f"{words}\n")


def _put(path: Path, text: str) -> None:
    try:
        disk.replace(path, text.encode())
    except OSError as fault:
        mend = disk.MAY_BE if isinstance(fault, disk.Unsure) else "check its permissions"
        raise BadInput(str(path), f"can't be written: {fault.strerror}", mend) from None
