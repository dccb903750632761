"""Long answers are made by processes of their own, so that short ones are given meanwhile.

Each process holds the whole application, makes one answer at a time, and is ended where that takes too long. Whoever
finds all of them busy waits in one queue, which has an end. A route says of itself that its answers are long:
`APIRouter(route_class=Heavy)`. What takes far longer than a plan (`Lasting`) never has all of the processes at once, so
that plans are made meanwhile. An application without workers, as the tests call it, makes them itself.
"""

from __future__ import annotations

import asyncio
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
from kb.web.problems import Problem, fault_response, problem_response
from kb.web.settings import Settings

#: Seconds that a request waits for its turn, and that its answer may take then.
TURN_S: Final = 20.0
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

    def __init__(self, make: Make, settings: Settings) -> None:
        self._make, self._settings, self._ended = make, settings, False

    def start(self) -> None:
        """Begin the process; it answers when it has read the knowledge."""
        context = get_context("spawn")
        self._line, theirs = context.Pipe()
        self._process = context.Process(target=_works, args=(self._make, self._settings, theirs), daemon=True)
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
    """The processes, and the queue before them."""

    def __init__(self, make: Make, settings: Settings, count: int) -> None:
        self._all = [Worker(make, settings) for _ in range(count)]
        # Whoever was free last is taken first: it remembers what was just asked.
        self._free = asyncio.LifoQueue[Worker]()
        self._threads = ThreadPoolExecutor(count, "worker")
        self._waiting = 0
        self._for_lasting = asyncio.Semaphore(max(1, count - 1))

    async def begin(self) -> None:
        """Start the processes; they have read the knowledge when this returns."""
        for worker in self._all:
            worker.start()
        loop = asyncio.get_running_loop()
        await asyncio.gather(*(loop.run_in_executor(self._threads, worker.ask, None, BEGIN_S) for worker in self._all))
        for worker in self._all:
            self._free.put_nowait(worker)

    async def end(self) -> None:
        """End the processes, whatever they are about."""
        for worker in self._all:
            worker.end()
        await asyncio.to_thread(self._threads.shutdown)

    async def answer(self, scope: Scope, receive: Receive, send: Send, lasting: bool = False) -> None:
        """Have a request answered by one of the processes, when its turn comes; `lasting`: not by the last free one."""
        request = Request(scope, receive)
        try:
            body = await request.body()
        except ClientDisconnect:
            return
        gone = asyncio.ensure_future(_gone(receive))
        try:
            answer = await self._in_turn({name: scope[name] for name in _TOLD if name in scope}, body, gone, lasting)
        except Problem as problem:
            await problem_response(request, problem)(scope, receive, send)
            return
        finally:
            gone.cancel()
        if answer is not None:
            await send({"type": "http.response.start", "status": answer.status, "headers": answer.headers})
            await send({"type": "http.response.body", "body": answer.body})

    async def _in_turn(
        self, told: Scope, body: bytes, gone: asyncio.Future[None], lasting: bool = False
    ) -> Answer | None:
        """The answer; None where nobody waits for it any more when its turn comes. Problem 503 where it is too late."""
        if self._waiting >= MOST_WAITING:
            raise Problem(503, "busy", "", f"{self._waiting} wait for a long answer already", "ask again in a moment")
        self._waiting += 1
        try:
            worker = await self._turn(lasting)
        except TimeoutError:
            raise Problem(503, "busy", "", "other long answers are being made", "ask again in a moment") from None
        finally:
            self._waiting -= 1
        if gone.done():
            self._done(worker, lasting)
            return None
        asking = asyncio.get_running_loop().run_in_executor(self._threads, worker.ask, (told, body), MOST_S)
        # Not here: who is no longer waited for goes on all the same, and is free only when it is done.
        asking.add_done_callback(lambda _: self._done(worker, lasting))
        try:
            return await asyncio.shield(asking)
        except TimeoutError:
            said = f"took more than {MOST_S:g} s, and was given up"
            raise Problem(503, "too-long", "", said, "ask for less, or use the command", retry_after=60) from None
        except EOFError:
            raise Problem(500, "fault", "", "the process that made the answer ended", "ask again") from None

    async def _turn(self, lasting: bool) -> Worker:
        """Wait for a process that is free. TimeoutError where none is in time."""
        async with asyncio.timeout(TURN_S):
            if not lasting:
                return await self._free.get()
            await self._for_lasting.acquire()
            try:
                return await self._free.get()
            except asyncio.CancelledError:
                self._for_lasting.release()
                raise

    def _done(self, worker: Worker, lasting: bool) -> None:
        self._free.put_nowait(worker)
        if lasting:
            self._for_lasting.release()


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


def _works(make: Make, settings: Settings, line: Connection) -> None:
    """Answer what comes on the line, one after the other, until it is closed."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # whoever stops the server from its terminal stops it alone
    app = make(settings)
    app.state.desk.ready()
    with asyncio.Runner() as runner, suppress(EOFError, OSError):
        while True:
            asked = line.recv()
            line.send(None if asked is None else runner.run(_answered(app, *asked)))


async def _answered(app: FastAPI, told: Scope, body: bytes) -> Answer:
    """What the application answers, without a socket."""
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
