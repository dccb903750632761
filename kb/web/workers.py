"""Long answers are made by processes of their own, so that short ones are given meanwhile.

Each process holds the whole application, makes one answer at a time, and is ended where that takes too long. Whoever
finds all of them busy waits in a queue (kb.web.lanes), which has an end. A route says of itself that its answers are
long: `APIRouter(route_class=Heavy)`. What takes far longer than a plan (`Lasting`) has processes and a queue of its
own, which stand back for all else that wants the processor: plans are made meanwhile. An application without workers,
as the tests call it, makes them itself.
"""

from __future__ import annotations

import asyncio
import os
import signal
import sys
import traceback
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from multiprocessing import get_context
from multiprocessing.connection import Connection
from typing import Any, Final, NamedTuple

from fastapi import FastAPI
from fastapi.routing import APIRoute
from starlette.requests import ClientDisconnect, Request
from starlette.types import Message, Receive, Scope, Send

from kb.web.acting import acting
from kb.web.lanes import Lane
from kb.web.problems import Problem, fault_response, problem_response
from kb.web.settings import Settings
from kb.web.wanted import installations_of, mark_of

#: Seconds that an answer may take when its turn has come.
MOST_S: Final = 60.0
#: So many wait in the queue; who comes then is told to come again.
MOST_WAITING: Final = 100
#: Seconds in which the processes must have read the knowledge.
BEGIN_S: Final = 120.0
#: What of a request a process is told.
_TOLD = (
    "type", "asgi", "http_version", "method", "scheme", "path", "raw_path", "query_string", "root_path", "headers",
    "client", "server", "state",
)  # fmt: skip
#: How far what takes longest stands back for all else that wants the processor.
STANDS_BACK: Final = 15
#: How many times as long as for a plan somebody waits for their turn with it.
PATIENCE: Final = 3.0
#: So many installations are laid out as fast as a plan is made; the schedule of more takes up to seconds.
MANY: Final = 500
#: What leaves out of an answer that which takes longest.
_WITHOUT: Final = b"hangs_on=false"

#: Makes the application in each process; a function of a module, since it is named to them.
Make = Callable[[Settings], FastAPI]


class Answer(NamedTuple):
    """An answer as it was made elsewhere."""

    status: int
    headers: list[tuple[bytes, bytes]]
    body: bytes


class Worker:
    """One process, which is asked over a line of its own; one that has ended or is too slow is replaced."""

    def __init__(self, make: Make, settings: Settings, stands_back: int = 0) -> None:
        self._make, self._settings, self._stands_back, self._ended = make, settings, stands_back, False

    def start(self) -> None:
        """Begin the process; it answers when it has read the knowledge."""
        context = get_context("spawn")
        self._line, theirs = context.Pipe()
        told = (self._make, self._settings, theirs, self._stands_back)
        self._process = context.Process(target=_works, args=told, daemon=True)
        self._process.start()
        theirs.close()

    def ask(self, asked: tuple[Scope, bytes] | None, within: float) -> Any:
        """Wait for what it answers. TimeoutError where that takes too long, EOFError where the process ended."""
        try:
            self._line.send(asked)
            if self._line.poll(within):
                return self._line.recv()
        except OSError:
            self._anew()
            raise EOFError from None
        except EOFError:
            self._anew()
            raise
        self._anew()
        raise TimeoutError

    def end(self) -> None:
        """End the process at once."""
        self._ended = True
        self._process.terminate()
        self._process.join(5)

    def _anew(self) -> None:
        self._process.kill()
        self._process.join(5)
        self._line.close()
        if not self._ended:
            self.start()


class Workers:
    """The processes in two lanes: `count` for plans and the like, and half as many, or one, for what lasts longer.

    What is asked of a large batch lasts longer, whatever the page.
    """

    def __init__(self, make: Make, settings: Settings, count: int) -> None:
        quick = [Worker(make, settings) for _ in range(count)]
        slow = [Worker(make, settings, STANDS_BACK) for _ in range(max(1, count // 2))]
        self._all = [*quick, *slow]
        self.quick, self.lasting = Lane(quick), Lane(slow, PATIENCE)
        self._threads = ThreadPoolExecutor(len(self._all), "worker")

    async def begin(self) -> None:
        """Start the processes; they have read the knowledge when this returns."""
        for worker in self._all:
            worker.start()
        loop = asyncio.get_running_loop()
        await asyncio.gather(*(loop.run_in_executor(self._threads, worker.ask, None, BEGIN_S) for worker in self._all))

    async def end(self) -> None:
        """End the processes, whatever they are about."""
        for worker in self._all:
            worker.end()
        await asyncio.to_thread(self._threads.shutdown)

    async def answer(self, scope: Scope, receive: Receive, send: Send, lasting: bool = False) -> None:
        """Have a request answered by one of the processes, when its turn comes; `lasting`: in the other lane."""
        request = Request(scope, receive)
        try:
            body = await request.body()
        except ClientDisconnect:
            return
        gone = asyncio.ensure_future(_gone(receive))
        lane = self.lasting if lasting or installations_of(scope["query_string"], body) > MANY else self.quick
        try:
            answer = await self.in_turn({name: scope[name] for name in _TOLD if name in scope}, body, gone, lane)
        except Problem as problem:
            await problem_response(request, problem)(scope, receive, send)
            return
        finally:
            gone.cancel()
        if answer is not None:
            await send({"type": "http.response.start", "status": answer.status, "headers": answer.headers})
            await send({"type": "http.response.body", "body": answer.body})

    async def in_turn(self, told: Scope, body: bytes, gone: asyncio.Future[None], lane: Lane[Worker]) -> Answer | None:
        """Give the answer; None where nobody waits for it any more when its turn comes.

        Problem 503 where it is too late.
        """
        if lane.waiting >= MOST_WAITING:
            raise Problem(503, "busy", "", f"{lane.waiting} wait for a long answer already", "ask again in a moment")
        try:
            worker = await lane.turn(mark_of(told.get("query_string", b""), body))
        except TimeoutError:
            raise Problem(503, "busy", "", "other long answers are being made", "ask again in a moment") from None
        if gone.done():
            lane.done(worker)
            return None
        asking = asyncio.get_running_loop().run_in_executor(self._threads, worker.ask, (told, body), MOST_S)
        # Not here: who is no longer waited for goes on all the same, and is free only when it is done.
        asking.add_done_callback(lambda _: lane.done(worker))
        try:
            return await asyncio.shield(asking)
        except TimeoutError:
            said = f"took more than {MOST_S:g} s, and was given up"
            raise Problem(503, "too-long", "", said, "ask for less, or use the command", retry_after=60) from None
        except EOFError:
            raise Problem(500, "fault", "", "the process that made the answer ended", "ask again") from None


async def _gone(receive: Receive) -> None:
    """Return when whoever asked has gone."""
    while (await receive())["type"] != "http.disconnect":
        pass


class Heavy(APIRoute):
    """A route whose answers are made by the workers, where there are any and something is asked."""

    #: Whether it is quick where nothing is asked: a page that shows its empty form.
    quick_unasked = True
    #: Whether its answers may take seconds, unless they are asked to leave out the search that does.
    lasting = False

    async def handle(self, scope: Scope, receive: Receive, send: Send) -> None:
        workers: Workers | None = scope["app"].state.workers
        unasked = scope["method"] == "GET" and not scope["query_string"]
        if workers is None or (unasked and self.quick_unasked):
            await super().handle(scope, receive, send)
        else:
            lasting = self.lasting and _WITHOUT not in scope["query_string"]
            await workers.answer(scope, receive, send, lasting)


class Lasting(Heavy):
    """A route that looks for what an answer hangs on, or judges many pairs."""

    lasting = True


class HeavyAnyway(Lasting):
    """A route whose answer is long although nothing is asked."""

    quick_unasked = False


# -- in a process of its own


def _works(make: Make, settings: Settings, line: Connection, stands_back: int) -> None:
    """Answer what comes on the line, one after the other, until it is closed."""
    if stands_back and hasattr(os, "nice"):
        os.nice(stands_back)
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # whoever stops the server from its terminal stops it alone
    app = make(settings)
    app.state.desk.ready()
    with asyncio.Runner() as runner, suppress(EOFError, OSError):
        while True:
            asked = line.recv()
            line.send(None if asked is None else runner.run(_answered(app, *asked)))


async def _answered(app: FastAPI, told: Scope, body: bytes) -> Answer:
    """Tell what the application answers, without a socket."""
    status, headers, chunks = 0, list[tuple[bytes, bytes]](), list[bytes]()

    async def receive() -> Message:
        return {"type": "http.request", "body": body, "more_body": False}

    async def send(message: Message) -> None:
        nonlocal status, headers
        if message["type"] == "http.response.start":
            status, headers = message["status"], list(message["headers"])
        else:
            chunks.append(message.get("body", b""))

    scope = {**told, "app": app}
    acting.set(told["state"]["actor"])
    try:
        await app(scope, receive, send)
    except Exception as fault:
        traceback.print_exception(fault, file=sys.stderr)
        chunks.clear()
        await fault_response(Request(scope))(scope, receive, send)
    return Answer(status, headers, b"".join(chunks))
