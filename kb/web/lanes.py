"""Processes that are alike, and the queue before them: a question goes best to the one that has worked on it before.

A page of a plan leads to its amounts, its sheet, its pictures, and two people ask for the same at once. The process
that remembers a plan has the answer in a tenth of the time. So whoever asks what is being worked out just now waits for
it, and where all are busy, whoever asks what one of them knows waits for that one while others have work.
"""

from __future__ import annotations

import asyncio
from collections import OrderedDict, deque
from collections.abc import Iterable
from typing import Final, Generic, NamedTuple, TypeVar

#: Seconds that a request waits for its turn.
TURN_S: Final = 20.0
#: Of so many questions it is known who worked on them: as many plans as two processes remember.
MOST_KNOWN: Final = 256

W = TypeVar("W")


class _Place(NamedTuple, Generic[W]):
    """A place in the queue; `only`: for whom it waits, if not for whoever is free first."""

    turn: asyncio.Future[W]
    question: bytes
    only: W | None


class Lane(Generic[W]):
    """The processes that are free, those who wait, and who has worked on what. `patience` lengthens the wait."""

    def __init__(self, workers: Iterable[W], patience: float = 1.0) -> None:
        self._free, self._patience = list(workers), patience
        self._queue = deque[_Place[W]]()
        self._known = OrderedDict[bytes, W]()
        #: What each that is busy works on.
        self._on = dict[W, bytes]()

    @property
    def free(self) -> int:
        """How many are free."""
        return len(self._free)

    @property
    def waiting(self) -> int:
        """How many wait for their turn."""
        return len(self._queue)

    async def turn(self, question: bytes = b"") -> W:
        """Wait for a process that is free, best the one that knows the question. TimeoutError where none is in time.

        Without a `question` it goes to any. Whoever was free last is taken first.
        """
        known = self._known.get(question)
        if self._free and (known is None or self._on.get(known) != question):
            worker = known if known in self._free else self._free[-1]
            self._free.remove(worker)
            self._begins(worker, question)
            return worker
        turn: asyncio.Future[W] = asyncio.get_running_loop().create_future()
        place = _Place(turn, question, known)
        self._queue.append(place)
        try:
            async with asyncio.timeout(TURN_S * self._patience):
                return await turn
        except BaseException:
            self._leaves(place)
            raise

    def done(self, worker: W) -> None:
        """Take a process back, and give it to the first who waits for it, or for any; else to one who waits in vain."""
        del self._on[worker]
        waiting = [place for place in self._queue if not place.turn.done()]
        fit = [place for place in waiting if place.only in (None, worker)]
        # Whom another only remembers need not wait for what else that one is at.
        rest = [place for place in waiting if place.only is not None and self._on.get(place.only) != place.question]
        if not (fit or rest):
            self._free.append(worker)
            return
        place = (fit or rest)[0]
        self._queue.remove(place)
        self._begins(worker, place.question)
        place.turn.set_result(worker)

    def _begins(self, worker: W, question: bytes) -> None:
        self._on[worker] = question
        if question:
            self._known[question] = worker
            self._known.move_to_end(question)
            while len(self._known) > MOST_KNOWN:
                self._known.popitem(last=False)

    def _leaves(self, place: _Place[W]) -> None:
        """Let someone go who waits no longer; what they were given just then goes to the next."""
        if place in self._queue:
            self._queue.remove(place)
        elif not place.turn.cancelled():
            self.done(place.turn.result())
