"""What the commands share: where the workspace is, and how an answer is printed."""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path
from typing import Annotated, Any

import typer

from kb.base.errors import BadInput

AsJson = Annotated[bool, typer.Option("--json", help="The answer as one JSON document on standard output.")]
Workspace = Annotated[Path | None, typer.Option("--workspace", help="The lab's folder (or TACKROOM_WORKSPACE).")]
OnDay = Annotated[str | None, typer.Option("--on", help="The day of the work, ISO (the job's, or else today).")]


def workspace_of(given: Path | None) -> Path | None:
    """The lab's workspace: as given, else TACKROOM_WORKSPACE, else none. BadInput where it can't be read."""
    if given is None:
        named = os.environ.get("TACKROOM_WORKSPACE")
        given = Path(named) if named else None
    if given is None:
        return None
    if not given.is_dir():
        raise BadInput(str(given), "the workspace is not a folder", "make it, or name another with --workspace")
    if not os.access(given, os.R_OK | os.X_OK):
        raise BadInput(str(given), "the workspace can't be read", "check its permissions")
    return given


def print_json(document: Any) -> None:
    """The document alone on standard output."""
    sys.stdout.write(json.dumps(document, ensure_ascii=False, indent=2, allow_nan=False) + "\n")


def print_text(text: str) -> None:
    """Text as it is, in whatever the terminal can show."""
    encoding = sys.stdout.encoding or "utf-8"
    sys.stdout.write(text.encode(encoding, "replace").decode(encoding))
