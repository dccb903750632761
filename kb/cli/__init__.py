"""The command line. No logic: each command reads its input, calls one function, prints its answer."""

from __future__ import annotations

import atexit
import gc
import os
import sys

from kb.base.errors import BAD_INPUT, TackroomError, one_line


def main() -> None:
    """Runs the command line. A fault is one line on standard error, and an exit status of its own."""
    # A command is over before there is much to collect; looking for it took a twentieth of its time.
    gc.set_threshold(200_000, 50, 50)
    # At the end all of it goes with the process; sorting it first took a tenth more.
    atexit.register(gc.freeze)
    # No plugin has a say in what is validated; looking for one would read of every package that is installed.
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "1")
    from kb.cli.program import program

    try:
        status = program(sys.argv[1:])(standalone_mode=False)
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
