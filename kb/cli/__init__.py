"""The command line. No logic: each command reads its input, calls one function, prints its answer."""

from __future__ import annotations

import atexit
import copy
import gc
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

from kb.errors import BAD_INPUT, TackroomError, one_line

if TYPE_CHECKING:
    from typer import Typer


def narrowed(app: Typer, words: Sequence[str]) -> Typer:
    """`app` with the one command that `words` begin with, or all of it where they name none.

    Typer works out the options of every command at each start; one command costs a tenth of forty.
    """
    named = words[0] if words else ""
    commands = [c for c in app.registered_commands if c.callback and (c.name or c.callback.__name__) == named]
    groups = [g for g in app.registered_groups if g.name == named]
    if not commands and not groups:
        return app
    small = copy.copy(app)
    small.registered_commands, small.registered_groups = commands, groups
    # A callback keeps Typer from taking a lone command for the program itself.
    small.callback()(lambda: None)
    return small


def main() -> None:
    """Runs the command line. A fault is one line on standard error, and an exit status of its own."""
    # A command is over before there is much to collect; looking for it took a twentieth of its time.
    gc.set_threshold(200_000, 50, 50)
    # At the end all of it goes with the process; sorting it first took a tenth more.
    atexit.register(gc.freeze)
    from kb.cli.app import app

    try:
        status = narrowed(app, sys.argv[1:])(standalone_mode=False)
    except TackroomError as fault:
        print(fault, file=sys.stderr)
        sys.exit(fault.exit_status)
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(0)
    except KeyboardInterrupt:
        print("stopped", file=sys.stderr)
        sys.exit(130)
    except Exception as fault:
        # Typer's own faults of usage know how to say themselves; anything else is a fault of this program.
        if not hasattr(fault, "format_message"):
            raise
        if type(fault).__name__ == "NoArgsIsHelpError":
            print(fault.format_message())
            sys.exit(0)
        command = getattr(getattr(fault, "ctx", None), "command_path", "tackroom")
        print(f"{command}: {one_line(fault.format_message())} See {command} --help.", file=sys.stderr)
        sys.exit(BAD_INPUT)
    sys.exit(status if isinstance(status, int) else 0)
