"""How every command behaves: version, help, options anywhere and once, near words, a job that is piped in, colour."""

from __future__ import annotations

import json
import os
import pty
import re
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest
import typer

from kb.cli import manners
from kb.cli.near import MEANT
from kb.cli.program import GROUPS, program
from kb.cli.terminal import coloured
from tests.test_cli import JOB, run

ROOT = Path(__file__).parents[2]


def test_the_version_is_that_of_the_package() -> None:
    version = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["version"]
    assert run("--version").stdout == f"tackroom {version}\n"


@pytest.mark.parametrize("command", [["-h"], ["plan", "-h"], ["stock", "-h"], ["stock", "use", "-h"]])
def test_help_is_short_to_ask_for(command: list[str]) -> None:
    short = run(*command)
    assert short.returncode == 0
    assert short.stdout == run(*command[:-1], "--help").stdout


def test_help_names_every_command_once_under_a_head_and_in_whole_sentences() -> None:
    whole: Any = typer.main.get_command(program())
    for words, group in (([], manners.GROUPS), (["stock"], manners.STOCK_GROUPS)):
        told = run(*words, "--help").stdout
        command = whole if not words else whole.commands["stock"]
        named = [name for names in group.values() for name in names]
        assert sorted(named) == sorted(command.commands)
        assert "More:" not in told
        assert "..." not in told.replace("[ARGS]...", "")
        assert all(re.search(rf"^  {name}  ", told, re.M) for name in named)


def test_options_of_any_command_stand_before_or_behind_it(house: Path) -> None:
    behind = run("stock", "list", "--workspace", str(house), "--json").stdout
    assert json.loads(behind)["schema"] == "tackroom.stock/1"
    assert run("--workspace", str(house), "stock", "list", "--json").stdout == behind
    assert run("--json", "stock", f"--workspace={house}", "list").stdout == behind


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["recall", "A-17"], "did you mean `tackroom trace LOT`?"),
        (["flag"], "did you mean `tackroom stock flag`?"),
        (["check", "brass", "epoxy", "job.toml"], "'job.toml' is a job file; the things are checked for it with --job"),
        (["buy"], "did you mean `tackroom estimate JOB --order`?"),
        (["stock", "dispos"], "Did you mean 'dispose'?"),
        (["plan", "--subtrate", "brass"], "No such option: --subtrate; did you mean `--substrate`? See"),
        (["stock", "flag", "--within", "-3"], "it should be greater than or equal to 0. See"),
        (["stock", "list", "--onn", "2027-01-01"], "No such option: --onn; did you mean `--on`?"),
        (["plan", "x.toml", "--prefer", "time", "--prefer", "headroom"], "--prefer: is given 2 times; give it once"),
        (["plan", "x.toml", "--days", "3"], "--days: is for a quick question"),
        (["stock", "receive", "acetone", "B", "-5", "mL"], "an amount is never less than nothing"),
        (["estimate", "x.toml", "--chain", "best"], "Invalid value for '--chain': it takes a whole number."),
        (["choose", "-"], "standard input can't be written to"),
    ],
)
def test_a_slip_is_told_in_one_line_with_what_may_be_meant(words: list[str], said: str) -> None:
    done = run(*words)
    assert done.returncode == 2
    assert said in done.stderr
    assert done.stderr.count("\n") == 1


def test_what_people_type_leads_to_commands_that_there_are() -> None:
    whole: Any = typer.main.get_command(program())
    for mend in MEANT.values():
        words = [w for w in mend.split()[1:] if w.islower() and not w.startswith("-")]
        here = whole
        for word in words:
            here = here.commands[word]


def test_a_day_for_the_shelf_without_the_shelf_is_not_passed_over(tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_text(JOB)
    done = run("plan", str(tmp_path / "job.toml"), "--on", "2027-03-01")
    assert (done.returncode, "add --stock" in done.stderr) == (2, True)


@pytest.mark.parametrize("command", [["plan", "-", "--json"], ["estimate", "-", "--json"], ["bench", "-", "--json"]])
def test_a_job_may_be_piped_in(command: list[str], tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_text(JOB)
    by_file = run(command[0], str(tmp_path / "job.toml"), "--json")
    piped = subprocess.run(
        [sys.executable, "-m", "kb", *command],
        input=JOB,
        capture_output=True,
        text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        check=False,
    )
    assert (piped.returncode, piped.stdout) == (by_file.returncode, by_file.stdout)


def test_what_is_piped_in_and_wrong_is_one_line() -> None:
    for text in ("[part", '[part]\nsubstrate = "brass"\n', "\ud800"):
        done = subprocess.run(
            [sys.executable, "-m", "kb", "plan", "-"],
            input=text.encode("utf-8", "surrogatepass"),
            capture_output=True,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
            check=False,
        )
        assert done.returncode == 2
        assert done.stderr.startswith(b"standard input: ")
        assert done.stderr.count(b"\n") == 1


@pytest.mark.parametrize(
    ("typed", "finished"),
    [("tackroom sto", "stock"), ("tackroom stock fla", "flag"), ("tackroom plan --pref", "--prefer")],
)
def test_a_shell_can_finish_words(typed: str, finished: str) -> None:
    asks: dict[str, Any] = {"COMP_WORDS": typed, "COMP_CWORD": str(typed.count(" "))}
    assert run(_TACKROOM_COMPLETE="complete_bash", **asks).stdout.split() == [finished]


def test_each_shell_is_told_how_to_ask() -> None:
    for shell in ("bash", "zsh", "fish", "powershell"):
        assert "_TACKROOM_COMPLETE" in run("completion", shell).stdout


def _on_a_terminal(*words: str, **env: str) -> str:
    """What a command writes to a terminal of 70 columns."""
    master, slave = pty.openpty()
    child = subprocess.Popen(
        [sys.executable, "-m", "kb", *words],
        stdout=slave,
        stderr=slave,
        env={**os.environ, "PYTHONPATH": str(ROOT), "COLUMNS": "70", "TERM": "xterm", **env},
    )
    os.close(slave)
    told = b""
    try:
        while piece := os.read(master, 65536):
            told += piece
    except OSError:
        pass  # a terminal whose other end is closed reads as a fault
    child.wait()
    os.close(master)
    return told.decode().replace("\r\n", "\n")


def test_a_terminal_gets_its_width_and_colour_and_nobody_needs_it() -> None:
    told = _on_a_terminal("demo")
    assert "\x1b[1mREADY\x1b[0m" in told
    plain = _on_a_terminal("demo", NO_COLOR="1")
    assert "\x1b" not in plain
    assert re.sub(r"\x1b\[[0-9;]*m", "", told) == plain
    assert max(map(len, plain.splitlines())) < 70
    assert len(plain.splitlines()) <= 40
    assert _on_a_terminal("demo", TERM="dumb") == plain
    assert coloured("no head\n  ! read this") == "no head\n  \x1b[33m!\x1b[0m read this"


def test_the_groups_of_two_words_are_the_ones_that_hold_commands() -> None:
    whole: Any = typer.main.get_command(program())
    inner = {name for name, one in whole.commands.items() if hasattr(one, "commands")}
    assert inner == set(GROUPS)
