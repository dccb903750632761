"""Connections that say nothing are shed, so that whoever asks is answered, however many there are of them.

A head must come within its time. Where one address holds more connections than its share, or all of them together more
than there are places, the quietest of them is closed for the newest: one that has never asked anything first. One that
is being answered never is.
"""

from __future__ import annotations

import asyncio
from typing import Any, Final

import uvicorn
from starlette.types import ASGIApp
from uvicorn.protocols.http.h11_impl import H11Protocol

#: Seconds for the whole head of a request, from its first byte, or from the first of the connection.
HEAD_S: Final = 10.0
#: Seconds that a connection may stay without a request after it was answered.
IDLE_S: Final = 30
#: Seconds in which what is being answered may end, once the server is told to stop.
GRACE_S: Final = 10
#: A browser opens six to a server, and a proxy as many as it has users just now.
MOST_OF_ONE: Final = 128
MOST_IN_ALL: Final = 512


class Connection(H11Protocol):
    """One connection, which counts against its address."""

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        super().connection_made(transport)
        self._since, self._head = self.loop.time(), None
        self._wait_for_head()
        _make_room(self)

    def connection_lost(self, exc: Exception | None) -> None:
        self._head_is_there()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        super().data_received(data)
        if not self.quiet:
            self._head_is_there()
        elif self._head is None:
            self._wait_for_head()

    @property
    def quiet(self) -> bool:
        """Whether nothing that it asked is being answered."""
        return self.cycle is None or self.cycle.response_complete

    @property
    def address(self) -> str:
        return self.client[0] if self.client else ""

    @property
    def standing(self) -> tuple[bool, float]:
        """By what it is chosen to be closed: the lowest first."""
        return self.cycle is not None, self._since

    def shed(self) -> None:
        self.transport.abort()

    _head: asyncio.TimerHandle | None

    def _wait_for_head(self) -> None:
        self._head = self.loop.call_later(HEAD_S, self.shed)

    def _head_is_there(self) -> None:
        if self._head is not None:
            self._head.cancel()
            self._head = None


def _make_room(newest: Connection) -> None:
    """Close the quietest connection where there are too many, of one address or in all."""
    there: list[Any] = [one for one in newest.connections if not one.transport.is_closing()]
    own = [one for one in there if one.address == newest.address]
    crowd = own if len(own) > MOST_OF_ONE else there if len(there) > MOST_IN_ALL else []
    if crowd:
        min((one for one in crowd if one.quiet), key=lambda one: one.standing).shed()


def server_of(app: ASGIApp, host: str, port: int) -> uvicorn.Server:
    """Give the server of an application, as it is run everywhere."""
    return uvicorn.Server(
        uvicorn.Config(
            app,
            host=host,
            port=port,
            http=Connection,
            ws="none",
            log_level="error",
            access_log=False,
            server_header=False,
            timeout_keep_alive=IDLE_S,
            timeout_graceful_shutdown=GRACE_S,
        )
    )
