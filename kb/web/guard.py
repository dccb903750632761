"""What every request passes before anything of ours sees it, and what every answer carries.

Refused are: names that this program isn't called by (a page elsewhere that points its own name here), writes that a
page of another site sends, bodies too large or too slow, and, beyond this machine, whoever has not been let in.
"""

from __future__ import annotations

import asyncio
import re
import sys
import traceback
from urllib.parse import unquote

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request, cookie_parser
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from kb.base.errors import TackroomError
from kb.web.acting import LOOKER, Actor, Entrance, acting
from kb.web.attempts import Attempts
from kb.web.problems import Problem, fault_response, problem_of, problem_response
from kb.web.session import (
    COOKIE,
    ENTRY_COOKIE,
    PERSON_COOKIE,
    WHO_COOKIE,
    entry_of,
    made_here,
    new_session,
    same,
)
from kb.web.settings import Settings
from kb.web.static_files import PREFIX, kept_for
from kb.work.people import LONGEST_NAME

SAFE = ("GET", "HEAD", "OPTIONS")
#: Reached without having been let in, beside what pages look like: the door, and whether the server lives.
DOOR, ALIVE = "/enter", ("/health", "/ready")
CSP = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "Content-Security-Policy": CSP,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
    "Cache-Control": "no-store",
}


class Guard:
    """The middleware: pure ASGI, so that it sees a body before anyone reads it."""

    def __init__(self, app: ASGIApp, settings: Settings, attempts: Attempts, entrance: Entrance) -> None:
        self.app, self.settings, self.attempts, self.entrance = app, settings, attempts, entrance

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        session, secret = _cookie(headers, COOKIE) or "", self.settings.secret
        fresh = "" if made_here(session, secret) else new_session(secret)
        scope.setdefault("state", {}).update(session=fresh or session, actor=LOOKER)

        acting.set(LOOKER)
        started = False

        async def send_guarded(message: Message) -> None:
            nonlocal started
            if message["type"] == "http.response.start":
                started = True
                answer = MutableHeaders(scope=message)
                if message["status"] in (200, 304) and scope["path"].startswith(PREFIX):
                    answer["Cache-Control"] = kept_for(scope["path"], scope["query_string"])
                for name, value in HEADERS.items():
                    answer.setdefault(name, value)
                if fresh:
                    secure = "; Secure" if scope["scheme"] == "https" else ""
                    answer.append("Set-Cookie", f"{COOKIE}={fresh}; Path=/; HttpOnly; SameSite=Strict{secure}")
            await send(message)

        problem = self._refusal(scope, headers)
        if problem is None:
            try:
                receive = await self._body(scope, headers, receive)
            except Problem as found:
                problem = found
        if problem is not None:
            await problem_response(Request(scope), problem)(scope, receive, send_guarded)
            return
        try:
            await self.app(scope, receive, send_guarded)
        except Exception as fault:
            traceback.print_exception(fault, file=sys.stderr)
            if not started:
                await fault_response(Request(scope))(scope, receive, send_guarded)

    def _refusal(self, scope: Scope, headers: Headers) -> Problem | None:
        """Tell why the request goes no further, by its head alone; None where it may."""
        host = headers.get("host", "")
        if _name(host) not in self.settings.called:
            return Problem(421, "wrong-name", "host", f"'{host}' is no name of this server", "call it by its own")
        if scope["method"] not in SAFE and not _from_here(scope, headers):
            return Problem(403, "cross-origin", "origin", "the request comes from another site", "use the page itself")
        if scope["path"] in (DOOR, *ALIVE) or scope["path"].startswith(PREFIX):
            return None
        try:
            there = bool(self.entrance.there())
            actor = self._actor(there, scope, headers)
        except Problem as guessed:
            return guessed
        except TackroomError as fault:
            return problem_of(fault)
        if actor is None:
            if there:
                return Problem(401, "sign-in-needed", "name", "this server lets in only its people", "see /enter")
            return Problem(401, "token-needed", "token", "this server lets in only who has its token", "see /enter")
        scope["state"]["actor"] = actor
        acting.set(actor)
        return None

    def _actor(self, there: bool, scope: Scope, headers: Headers) -> Actor | None:
        """Tell who asks; None where they have not been let in."""
        if there and (person := self.entrance.actor(_cookie(headers, PERSON_COOKIE))) is not None:
            return person
        if there and self.settings.token is None:
            return None
        if not self._let_in(scope, headers):
            return None
        return LOOKER if there else Actor(unquote(_cookie(headers, WHO_COOKIE) or "")[:LONGEST_NAME])

    def _let_in(self, scope: Scope, headers: Headers) -> bool:
        token = self.settings.token
        if token is None or same(_cookie(headers, ENTRY_COOKIE), entry_of(token, self.settings.secret)):
            return True
        scheme, _, given = headers.get("authorization", "").partition(" ")
        if scheme.lower() != "bearer":
            return False
        address = (scope.get("client") or ("",))[0]
        self.attempts.allow(address)
        right = same(given.strip(), token)
        if not right:
            self.attempts.wrong(address)
        return right

    async def _body(self, scope: Scope, headers: Headers, receive: Receive) -> Receive:
        """Give the body read whole, within its bounds of size and time; Problem beyond them."""
        if scope["method"] in SAFE:
            return receive
        most = self.settings.most_bytes
        too_large = Problem(413, "too-large", "body", f"is more than {most} bytes", "send less at a time")
        declared = headers.get("content-length", "")
        if declared.isdecimal() and int(declared) > most:
            raise too_large
        chunks: list[bytes] = []
        try:
            async with asyncio.timeout(self.settings.most_seconds):
                more, size = True, 0
                while more:
                    message = await receive()
                    if message["type"] == "http.disconnect":
                        return _again(message)
                    chunk = message.get("body", b"")
                    size += len(chunk)
                    if size > most:
                        raise too_large
                    chunks.append(chunk)
                    more = message.get("more_body", False)
        except TimeoutError:
            slow = f"took more than {self.settings.most_seconds:g} s to come"
            raise Problem(408, "too-slow", "body", slow, "send it again") from None
        return _again({"type": "http.request", "body": b"".join(chunks), "more_body": False}, receive)


def _again(message: Message, then: Receive | None = None) -> Receive:
    """Give `message` once, and after it what `then` gives."""
    left = [message]

    async def receive() -> Message:
        if left:
            return left.pop()
        return await then() if then else message

    return receive


def _cookie(headers: Headers, name: str) -> str | None:
    """Give a cookie's value. Another program of this machine may have set odd ones: those are passed over."""
    return cookie_parser(headers.get("cookie", "")).get(name)


_HOST = re.compile(r"(\[[0-9a-f:.]+\]|[a-z0-9._-]+)(?::\d{1,5})?", re.IGNORECASE | re.ASCII)


def _name(host: str) -> str:
    """Give the name in a Host header, without the port; "" where there is none, or it is no such header.

    >>> _name("localhost:8765"), _name("[::1]:80"), _name(""), _name("localhost:80@elsewhere.example")
    ('localhost', '[::1]', '', '')
    """
    found = _HOST.fullmatch(host)
    return found[1].lower() if found else ""


def _from_here(scope: Scope, headers: Headers) -> bool:
    """Tell whether a write comes from a page of this server, or from no browser at all.

    Every browser says where a write comes from; a program may leave it out, and needs the session's token anyway.
    """
    site = headers.get("sec-fetch-site")
    if site is not None and site != "same-origin":
        return False
    origin = headers.get("origin")
    return origin is None or origin.lower() == f"{scope['scheme']}://{headers.get('host', '')}".lower()
