"""The command line. No logic: each command reads its input, calls one function, prints its answer."""

from __future__ import annotations

import atexit
import gc
import os
import sys
from typing import Any, NoReturn

from kb.base.errors import BAD_INPUT, STOPPED, TackroomError, to_tell


def main() -> None:
    """Run the command line. A fault is one line on standard error, and an exit status of its own."""
    # A command is over before there is much to collect; looking for it took a twentieth of its time.
    gc.set_threshold(200_000, 50, 50)
    # At the end all of it goes with the process; sorting it first took a tenth more.
    atexit.register(gc.freeze)
    # No plugin has a say in what is validated; looking for one would read of every package that is installed.
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "1")
    from kb.cli.common import leave_output, tell
    from kb.cli.completion import asked_by_shell
    from kb.cli.manners import in_place
    from kb.cli.program import GROUPS, program
    from kb.cli.terminal import fit

    try:
        typed = asked_by_shell()
        words = in_place(sys.argv[1:], GROUPS)
        fit()
        status = program(words if typed is None else typed)(words, prog_name="tackroom", standalone_mode=False)
        if sys.stdout is not None:
            sys.stdout.flush()
    except TackroomError as fault:
        _end(str(fault), fault.exit_status)
    except BrokenPipeError:
        leave_output()
        sys.exit(0)
    except KeyboardInterrupt:
        _end("stopped", STOPPED)
    except MemoryError:
        _end("there is not enough memory for that; close other programs, or ask for less", BAD_INPUT)
    except OSError as fault:
        leave_output()
        where = f"{fault.filename}: " if fault.filename else ""
        _end(f"{where}{(fault.strerror or str(fault)).lower()}; look at the disk and the permissions", BAD_INPUT)
    except UnicodeError:
        _end("an argument or a name holds bytes that are no text; write it in UTF-8", BAD_INPUT)
    except Exception as fault:
        # Typer's own faults of usage know how to say themselves; anything else is a fault of this program.
        if not hasattr(fault, "format_message"):
            raise
        if type(fault).__name__ == "NoArgsIsHelpError":
            tell(fault.format_message()) if sys.stdout is None else print(fault.format_message())
            sys.exit(0)
        _end(_usage(fault), BAD_INPUT)
    sys.exit(status if isinstance(status, int) else 0)


def _end(words: str, status: int) -> NoReturn:
    """Say a line and end."""
    from kb.cli.common import tell

    tell(to_tell(words))
    sys.exit(status)


#: What the library says of words where a number belongs, and what is said instead.
_NO_NUMBER = {
    "Input should be a valid integer, unable to parse string as an integer": "it takes a whole number.",
    "Input should be a valid number, unable to parse string as a number": "it takes a number.",
    "Input should be ": "it should be ",
}


def _usage(fault: Any) -> str:
    """Tell what is wrong with a command line, and the command that may be meant."""
    from kb.cli.near import meant_by, option_meant

    context = getattr(fault, "ctx", None)
    command = getattr(context, "command_path", "tackroom")
    said = to_tell(fault.format_message()).replace("Value error, ", "")
    for library, ours in _NO_NUMBER.items():
        said = said.replace(library, ours)
    if near := meant_by(said):
        said = f"{said.partition(' Did you mean')[0].rstrip('.')}; {near}"
    elif context is not None and (name := getattr(fault, "option_name", None)) and said.startswith("No such option"):
        if name[1:2].isdecimal():
            return f"{command}: {name} is no option, and an amount is never less than nothing. See {command} --help."
        known = (option for parameter in context.command.get_params(context) for option in parameter.opts)
        said = f"No such option: {name}; {option_meant(name, known)}".rstrip("; ")
    said = said if said.endswith((".", "?")) else f"{said}."
    return f"{command}: {said} See {command} --help."
