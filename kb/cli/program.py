"""The command line put together: the command that is called, or all of them where help is asked for."""

from __future__ import annotations

import copy
from collections.abc import Sequence
from importlib import import_module
from typing import Annotated

from typer import Exit, Option, Typer
from typer.models import CommandInfo

from kb.cli.app import app
from kb.cli.manners import Command, Group

#: The commands of other modules of this package and where each is found, in the order of the help.
ELSEWHERE = {
    "check": "ask:check",
    "matrix": "ask:matrix",
    "explain": "ask:explain",
    "compare": "ask:compare",
    "describe": "describe:describe",
    "choose": "choose:choose",
    "estimate": "day:estimate",
    "bench": "day:bench",
    "timeline": "work:timeline",
    "pick": "work:pick",
    "run": "run:run",
    "record": "work:record",
    "trace": "work:trace",
    "sign": "people:sign",
    "sheet": "paper:sheet",
    "serve": "web:serve",
    "people": "people:app",
    "picture": "paper:pictures",
    "stock": "stock:app",
    "item": "item:app",
    "confirm": "confirm:app",
    "recheck": "recheck:recheck",
    "call": "call:call",
    "completion": "completion:completion",
}
#: Of these the command is two words.
GROUPS = ("stock", "picture", "confirm", "item", "people")


def _version(asked: bool) -> None:
    if asked:
        from kb import __version__
        from kb.cli.common import print_text

        print_text(f"tackroom {__version__}\n")
        raise Exit


def _whole(
    version: Annotated[
        bool, Option("--version", callback=_version, is_eager=True, help="Say which version this is, and end.")
    ] = False,
) -> None:
    """Pick, prove and explain the chain of materials that bonds a strain gauge, and serve the bench's day."""


def program(words: Sequence[str] = ()) -> Typer:
    """Give the one command that `words` begin with, of a group too; all where they name none.

    Typer works out the options of every command at each start, and every module takes its time to load: the one
    that is called costs a tenth of forty.
    """
    named = words[0] if words else ""
    own = _by_name(app)
    found = copy.copy(app)
    found.registered_commands, found.registered_groups = [], []
    alone = named in own or named in ELSEWHERE
    for name, place in ELSEWHERE.items():
        if name == named or not alone:
            module, _, attribute = place.partition(":")
            command = getattr(import_module(f"kb.cli.{module}"), attribute)
            found.add_typer(command, name=name) if isinstance(command, Typer) else found.command(name)(command)
    found.registered_commands += [command for name, command in own.items() if name == named or not alone]
    for group in found.registered_groups:
        group.typer_instance = _only(group.typer_instance, words[1] if alone and len(words) > 1 else "")
    inner = [group.typer_instance for group in found.registered_groups]
    for command in (one for group in (found, *inner) if group is not None for one in group.registered_commands):
        command.cls = Command
    # The callback also keeps Typer from taking a lone command for the program itself.
    found.callback(cls=Group, context_settings={"help_option_names": ["-h", "--help"]})(_whole)
    return found


def _only(group: Typer | None, named: str) -> Typer | None:
    """Give the group with the one command that is named; whole where none is."""
    if group is None or named not in (own := _by_name(group)):
        return group
    found = copy.copy(group)
    found.registered_commands = [own[named]]
    return found


def _by_name(group: Typer) -> dict[str, CommandInfo]:
    return {one.name or str(getattr(one.callback, "__name__", "")): one for one in group.registered_commands}
