"""The command group `people`, and `sign`: who may come in by pages and API, and who approves what was made."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from kb.base.errors import BadInput
from kb.cli.common import AsJson, Workspace, print_json, print_text, today, workspace_folder
from kb.cli.stock_common import At, Reason, Who, moment, open_ledger, person, someone_is_there

if TYPE_CHECKING:
    from kb.work.people import People, Person

app = typer.Typer(
    no_args_is_help=True, rich_markup_mode=None, help="Who may come in by pages and API, and what they may record."
)
Name = Annotated[str, typer.Argument(metavar="NAME", help="The name by which the ledger knows them.")]
Role = Annotated[str, typer.Argument(metavar="ROLE", help="reader, bench, store-keeper or approver.")]


@app.command()
def add(
    name: Name,
    role: Annotated[str, typer.Option(help="reader, bench, store-keeper or approver.")] = "bench",
    who: Who = None,
    workspace: Workspace = None,
) -> None:
    """Let somebody in: asks for a password, or reads one from standard input."""
    found = _people(workspace).add(name, role, _password(), person(who), today())
    print_text(f"{_told(found)}\n")


@app.command("list")
def list_people(as_json: AsJson = False, workspace: Workspace = None) -> None:
    """List who may come in, and who did once."""
    everybody = _people(workspace).all()
    if as_json:
        rows = [
            {"name": one.name, "role": one.role, "ended": one.ended or None, "history": list(one.history)}
            for one in everybody
        ]
        print_json({"schema": "tackroom.people/1", "people": rows})
    elif everybody:
        print_text("".join(f"{_told(one)}\n" for one in everybody))
    else:
        print_text("Nobody: pages and API ask nobody who they are. `people add NAME` begins.\n")


@app.command("role")
def give_role(name: Name, role: Role, who: Who = None, workspace: Workspace = None) -> None:
    """Give somebody another role."""
    print_text(f"{_told(_people(workspace).give_role(name, role, person(who), today()))}\n")


@app.command("password")
def give_password(name: Name, who: Who = None, workspace: Workspace = None) -> None:
    """Give somebody another password; where they are in, they must come in anew."""
    people = _people(workspace)
    print_text(f"{_told(people.give_password(name, _password(), person(who), today()))}\n")


@app.command()
def end(name: Name, who: Who = None, workspace: Workspace = None) -> None:
    """Let somebody in no more; what they recorded goes on naming them."""
    print_text(f"{_told(_people(workspace).end(name, person(who), today()))}\n")


def sign(
    record: Annotated[int, typer.Argument(metavar="RECORD", min=1, help="The record's number.")],
    refuse: Annotated[bool, typer.Option("--refuse", help="It is not approved; with --reason.")] = False,
    reason: Reason = "",
    at: At = None,
    who: Who = None,
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """Sign what was recorded as made: somebody else than who did the work approves it, or refuses it."""
    from kb.work.signing import sign as put

    verdict = "refused" if refuse else "approved"
    found = put(open_ledger(workspace), record, verdict, person(who), moment(at), today(), reason)
    if as_json:
        print_json({"schema": "tackroom.signed/1", "signed": found})
    else:
        print_text(f"Record {record} of '{found['job']}' {verdict} by {found['who']}.\n")


def _people(workspace: Path | None) -> People:
    from kb.work.people import People

    return People(workspace_folder(workspace))


def _password() -> str:
    """Give the password, asked for twice of a person; else the first line of standard input."""
    if someone_is_there():
        found: str = typer.prompt("Password", hide_input=True, confirmation_prompt=True, err=True)
        return found
    said = sys.stdin.readline(1000).rstrip("\r\n") if sys.stdin is not None else ""
    if not said:
        raise BadInput("password", "nobody is there to type one", "write it to standard input")
    return said


def _told(one: Person) -> str:
    return f"{one.name}: {f'ended {one.ended}, was {one.role}' if one.ended else one.role}"
