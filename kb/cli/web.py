"""The command `serve`."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Annotated

import typer

from kb.base.errors import BadInput
from kb.cli.common import Workspace, workspace_folder
from kb.cli.stock_common import person

MOST_PORT = 65_535
#: Each takes some 150 MB.
MOST_PROCESSES = 4


def serve(
    host: Annotated[str, typer.Option(help="The address to listen on. Beyond this machine it needs a token.")] = (
        "127.0.0.1"
    ),
    port: Annotated[int, typer.Option(min=1, max=MOST_PORT, help="The port to listen on.")] = 8765,
    name: Annotated[
        list[str] | None, typer.Option(help="A name by which browsers call this machine; may be repeated.")
    ] = None,
    who: Annotated[str | None, typer.Option(help="Who records what the page records (TACKROOM_WHO, or you).")] = None,
    processes: Annotated[
        int | None,
        typer.Option(min=1, max=64, help="How many processes make long answers (as processors, at most 4)."),
    ] = None,
    workspace: Workspace = None,
) -> None:
    """Serve the page and the API on this machine: choose, check, estimate, look after the shelf.

    Beyond this machine's own address set TACKROOM_TOKEN to a long random word; whoever comes must give it.
    """
    from kb.web.app import create_app
    from kb.web.connections import server_of
    from kb.web.settings import Settings

    settings = Settings(
        workspace=Path(workspace_folder(workspace)),
        host=host,
        port=port,
        token=os.environ.get("TACKROOM_TOKEN") or None,
        names=tuple(name or ()),
        who=person(who),
        asks_who=not (who or os.environ.get("TACKROOM_WHO")),
    )
    app = create_app(settings, processes or min(os.cpu_count() or 1, MOST_PROCESSES))
    # Read the knowledge before saying that it is there, so that the first who comes doesn't wait, and a fault shows.
    app.state.desk.ready()
    server = server_of(app, host, port)
    shown = f"[{host}]" if ":" in host else host
    print(f"tackroom is at http://{shown}:{port}/ (Ctrl-C ends it); workspace {settings.workspace}", file=sys.stderr)
    try:
        server.run()
    except SystemExit:
        if server.lifespan.should_exit:
            said = "the processes that make long answers could not be started"
            raise BadInput("--processes", said, "ask for fewer, or close other programs") from None
        raise BadInput("--port", f"{host}:{port} can't be listened on", "name another port") from None
