"""Requests to the application itself, without a socket, as a browser or a program would send them."""

from __future__ import annotations

import asyncio
import itertools
import math
from collections.abc import Iterator
from typing import Any

import httpx
from fastapi import FastAPI

from kb.engine.plan import Engine

HOME = "http://localhost:8765"


def ready(app: FastAPI, engine: Engine) -> FastAPI:
    """The application with knowledge that was loaded already, and isn't looked at again."""
    desk = app.state.desk
    desk._engine, desk._looked = engine, math.inf
    return app


def routes_below(router: Any, prefix: str = "") -> Iterator[tuple[str, Any]]:
    """Every route with its path, those of routers in routers too."""
    for route in router.routes:
        inner = getattr(route, "original_router", None)
        if inner is not None:
            yield from routes_below(inner, prefix)
        elif hasattr(route, "path"):
            yield prefix + route.path, route


class Caller:
    """Sends requests and keeps the cookies; `write` gives them what a write needs."""

    def __init__(self, app: FastAPI, base: str = HOME) -> None:
        self.app, self.base, self.cookies = app, base, httpx.Cookies()
        self._keys = itertools.count(1)

    def send(self, method: str, path: str, **more: Any) -> httpx.Response:
        """The answer. What the program failed to answer is raised."""

        async def sent() -> httpx.Response:
            transport = httpx.ASGITransport(self.app)
            async with httpx.AsyncClient(transport=transport, base_url=self.base, cookies=self.cookies) as client:
                answer = await client.request(method, path, **more)
                self.cookies = client.cookies
                return answer

        return asyncio.run(sent())

    def get(self, path: str, **more: Any) -> httpx.Response:
        return self.send("GET", path, **more)

    def post(self, path: str, body: Any = None, **more: Any) -> httpx.Response:
        return self.send("POST", path, json=body, **more)

    def session(self) -> dict[str, str]:
        """The header fields that a write of this session needs, with a word of its own."""
        token = self.get("/api/session").json()["token"]
        return {"X-Session-Token": token, "Idempotency-Key": f"write-{next(self._keys):06}"}

    def write(self, path: str, body: Any, **headers: str) -> httpx.Response:
        return self.post(path, body, headers=self.session() | headers)
