"""What the commands share: where the workspace is, the day, and how an answer is printed."""

from __future__ import annotations

import contextlib
import datetime
import functools
import json
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from pydantic_core import to_json

from kb.base.errors import BadInput

if TYPE_CHECKING:
    from kb.job import Job
    from kb.knowledge import Knowledge

#: What a job that is piped in is called in messages.
STANDARD_INPUT = "standard input"

AsJson = Annotated[bool, typer.Option("--json", help="The answer as one JSON document on standard output.")]
Workspace = Annotated[Path | None, typer.Option("--workspace", help="The lab's folder (or TACKROOM_WORKSPACE).")]
OnDay = Annotated[
    str | None,
    typer.Option("--on", help="The day of the work, ISO or 'monday' (the job's, or today)."),
]


class Unwritable(BadInput):
    """The answer can't be written: the disk is full, say, or nobody listens."""

    def __init__(self, why: str, mend: str = "make room, or write elsewhere") -> None:
        super().__init__("standard output", f"can't be written: {why}", mend)


def workspace_of(given: Path | None) -> Path | None:
    """Find the lab's workspace: as given, else TACKROOM_WORKSPACE, else the user's data folder, where there is one.

    BadInput where what was given or named can't be read.
    """
    if given is None:
        named = os.environ.get("TACKROOM_WORKSPACE")
        given = Path(named) if named else None
    if given is None:
        return own if (own := _data_folder()) is not None and own.is_dir() else None
    if not given.is_dir():
        raise BadInput(str(given), "the workspace is not a folder", "make it, or name another with --workspace")
    if not os.access(given, os.R_OK | os.X_OK):
        raise BadInput(str(given), "the workspace can't be read", "check its permissions")
    return given


def workspace_folder(given: Path | None) -> Path:
    """Find the workspace; without one, the user's data folder (made when something is first recorded)."""
    found = workspace_of(given) or _data_folder()
    if found is None:
        raise BadInput("workspace", "this user has no home folder", "name one with --workspace or TACKROOM_WORKSPACE")
    return found


def _data_folder() -> Path | None:
    base = os.environ.get("XDG_DATA_HOME") or (os.environ.get("LOCALAPPDATA") if os.name == "nt" else None)
    try:
        return (Path(base) if base else Path.home() / ".local" / "share") / "tackroom"
    except RuntimeError:
        return None


def job_in(path: Path) -> Job:
    """Read the job in a file, or on standard input where its name is a dash."""
    from kb.job import read_job

    return _typed_job() if str(path) == "-" else read_job(path)


@functools.cache
def _typed_job() -> Job:
    """Give the job on standard input, which can be read once only."""
    from kb.base.files import MOST_TOML, toml_of
    from kb.job import job_of

    if sys.stdin is None:
        raise BadInput(STANDARD_INPUT, "is closed", "name a job file, or pipe one in")
    return job_of(toml_of(sys.stdin.buffer.read(MOST_TOML + 1), STANDARD_INPUT), STANDARD_INPUT)


def known_by_lab(given: Path | None) -> Knowledge:
    """Load the knowledge with the workspace's own items, rules and confirmed values."""
    from kb.work.known import load

    return load(workspace_of(given), today())


def catalog_of_lab(given: Path | None) -> Knowledge:
    """Load the knowledge with the workspace's own items and rules, but with no value that the lab has confirmed."""
    from kb import knowledge

    return knowledge.load(workspace_of(given))


def today() -> str:
    """Today, ISO: as TACKROOM_TODAY says, or by the clock, which is read in this module alone."""
    named = os.environ.get("TACKROOM_TODAY")
    if not named:
        return datetime.date.today().isoformat()
    try:
        return datetime.date.fromisoformat(named).isoformat()
    except ValueError:
        raise BadInput("TACKROOM_TODAY", f"'{named}' is no ISO date", "such as 2027-03-01") from None


def now() -> datetime.datetime:
    """Read the clock on the wall, to the second, on the day that it is."""
    clock = datetime.datetime.now().time().replace(microsecond=0)
    return datetime.datetime.combine(datetime.date.fromisoformat(today()), clock)


def print_json(document: Any) -> None:
    """Print the document alone on standard output."""
    try:
        text = to_json(document, indent=2).decode()
        text.encode(_encoding())
    except ValueError:
        text = ""
    # The standard library's is slower by far, and strict: what can't be written as it is, and what may be no number.
    if not text or "NaN" in text or "Infinity" in text:
        text = json.dumps(document, indent=2, allow_nan=False)
    print_plain(text + "\n")


def print_text(text: str) -> None:
    """Text in whatever the terminal can show."""
    from kb.cli.terminal import painted

    print_plain(painted(text).encode(_encoding(), "replace").decode(_encoding()))


def tell(words: str) -> None:
    """Say a line to whoever runs the command, on standard error; where nobody hears it, it is left unsaid."""
    with contextlib.suppress(OSError, ValueError, AttributeError):
        encoding = sys.stderr.encoding or "utf-8"
        sys.stderr.write(words.encode(encoding, "replace").decode(encoding) + "\n")
        sys.stderr.flush()


def _encoding() -> str:
    return getattr(sys.stdout, "encoding", None) or "utf-8"


def print_plain(text: str) -> None:
    """Print text as it stands; Unwritable where the disk is full, say, or nobody listens."""
    if sys.stdout is None:
        raise Unwritable("it is closed", "run it with an open standard output")
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except BrokenPipeError:
        raise
    except (OSError, ValueError) as fault:
        leave_output()
        raise Unwritable(getattr(fault, "strerror", None) or str(fault)) from None


def leave_output() -> None:
    """Let go of standard output: Python flushes it once more when it ends, and that must not fail a second time."""
    with contextlib.suppress(OSError, ValueError, AttributeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
