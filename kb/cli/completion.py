"""The command `completion`: what a shell has to run so that the Tab key finishes words."""

from __future__ import annotations

import os
from collections.abc import Sequence
from enum import StrEnum
from importlib import import_module
from types import ModuleType
from typing import Annotated

import typer

from kb.cli.common import print_text

#: The variable by which a shell asks for words; the name is Typer's for a program called tackroom.
ASKS = "_TACKROOM_COMPLETE"


class Shell(StrEnum):
    """Shells that can ask for words."""

    bash = "bash"
    zsh = "zsh"
    fish = "fish"
    powershell = "powershell"


def completion(shell: Annotated[Shell, typer.Argument(help="The shell that you type in.")]) -> None:
    """Write what a shell has to run so that the Tab key finishes words, such as eval "$(tackroom completion bash)"."""
    print_text(_typers().get_completion_script(prog_name="tackroom", complete_var=ASKS, shell=shell.value) + "\n")


def _typers() -> ModuleType:
    """Typer's part that writes the scripts; what it only passes on can't be imported by name."""
    return import_module("typer.completion")


def asked_by_shell() -> Sequence[str] | None:
    """Give the words before the one to be finished, where a shell asks; None where a person runs the program."""
    if ASKS not in os.environ:
        return None
    _typers().completion_init()
    typed = (os.environ.get("COMP_WORDS") or os.environ.get("_TYPER_COMPLETE_ARGS") or "").split()
    # Of a word that is only half there it isn't known which command it will be.
    return typed[1:] if len(typed) > 2 else ()
