"""The command line. No logic: each command reads its input, calls one function, prints its answer."""

from __future__ import annotations

import sys

from kb.errors import TackroomError


def main() -> None:
    """Runs the command line. A fault is one line on standard error, and an exit status of its own."""
    from kb.cli.app import app

    try:
        app()
    except TackroomError as fault:
        print(fault, file=sys.stderr)
        sys.exit(fault.exit_status)
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(0)
