"""What `serve` is told, and what it refuses."""

from __future__ import annotations

import datetime
import ipaddress
import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from kb.base.errors import BadInput
from kb.web.session import secret_of

#: A token that can be guessed is none.
SHORTEST_TOKEN = 16
LOOPBACK_NAMES = ("localhost", "127.0.0.1", "[::1]")


@dataclass(frozen=True)
class Settings:
    """Where to listen, for whom, and the bounds of a request."""

    workspace: Path
    host: str = "127.0.0.1"
    port: int = 8765
    #: Whoever listens beyond this machine must be let in with it.
    token: str | None = None
    #: Names by which a browser may call it, besides those of this machine.
    names: tuple[str, ...] = ()
    #: The most bytes that a request's body may have, and the seconds in which it must have come.
    most_bytes: int = 1_000_000
    most_seconds: float = 15.0
    #: Today, for stock and plans that name no day: where pages and API read the clock.
    today: Callable[[], datetime.date] = datetime.date.today
    #: Seconds that only rise, through restarts too: by them whoever came in must come in anew.
    clock: Callable[[], float] = time.time
    who: str = "unnamed"
    #: Whether nobody said who records: then each device is asked once.
    asks_who: bool = False

    def __post_init__(self) -> None:
        if self.token is not None and len(self.token) < SHORTEST_TOKEN:
            raise BadInput("token", f"has fewer than {SHORTEST_TOKEN} characters", "take a longer, random one")
        if self.token is None and not is_loopback(self.host):
            said = f"{self.host} can be reached from other machines, and no token is set"
            raise BadInput("--host", said, "set TACKROOM_TOKEN to a long random word, or listen on 127.0.0.1")

    @cached_property
    def secret(self) -> bytes:
        """What sessions and their tokens are made with."""
        return secret_of(self.workspace)

    @property
    def called(self) -> frozenset[str]:
        """The names (without port) by which it may be called: any other is a page elsewhere that poses as it."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        own = () if self.host in ("0.0.0.0", "::") else (host,)
        return frozenset(name.lower() for name in (*LOOPBACK_NAMES, *own, *self.names))


def is_loopback(host: str) -> bool:
    """Tell whether only this machine itself can reach `host`.

    >>> is_loopback("127.0.0.1"), is_loopback("::1"), is_loopback("localhost"), is_loopback("0.0.0.0")
    (True, True, True, False)
    """
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False
