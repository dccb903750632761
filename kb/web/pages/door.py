"""The door of a server that others can reach, and what the kinds of problem mean."""

from __future__ import annotations

import re
from typing import Annotated

from fastapi import APIRouter, Form, Request
from starlette.responses import FileResponse, RedirectResponse, Response

from kb.web.desk import TheDesk
from kb.web.looks import STATIC
from kb.web.problems import KINDS, Problem
from kb.web.render import page
from kb.web.session import COOKIE, ENTRY_COOKIE, entry_of, same, token_of

router = APIRouter()
MARK = STATIC / "mark.svg"


@router.get("/enter")
def door(request: Request) -> Response:
    return page(request, "enter.html", title="Enter", onward=_onward(request.query_params.get("next", "")))


@router.post("/enter")
def enter(
    request: Request,
    token: Annotated[str, Form(max_length=1000)] = "",
    onward: Annotated[str, Form(max_length=20_000)] = "",
) -> Response:
    settings, attempts = request.app.state.desk.settings, request.app.state.attempts
    address = request.client.host if request.client else ""
    attempts.allow(address)
    if settings.token is not None and not same(token, settings.token):
        attempts.wrong(address)
        raise Problem(403, "token-needed", "token", "is not the one of this server", "ask whoever started it")
    response = RedirectResponse(_onward(onward), 303)
    if settings.token is not None:
        proof = entry_of(settings.token, settings.secret)
        secure = request.url.scheme == "https"
        response.set_cookie(ENTRY_COOKIE, proof, httponly=True, samesite="strict", secure=secure)
    return response


@router.post("/leave")
def leave(request: Request, session_token: Annotated[str, Form(max_length=200)] = "") -> Response:
    """Forget on this device that it was let in, and its session."""
    if not same(session_token, token_of(request.state.session, request.app.state.desk.settings.secret)):
        raise Problem(403, "session", "form", "is from another session", "load the page again and repeat it")
    response = RedirectResponse("/enter", 303)
    for name in (ENTRY_COOKIE, COOKIE):
        response.delete_cookie(name, httponly=True, samesite="strict")
    return response


@router.get("/health")
def health() -> Response:
    """Whether the server lives: it answers."""
    return Response("lives\n", media_type="text/plain")


@router.get("/ready")
def ready(desk: TheDesk) -> Response:
    """Whether it can do its work: the knowledge and the ledger can be read. Problem 503 or 422 where they can't."""
    desk.items()
    desk.ledger().standing()
    return Response("ready\n", media_type="text/plain")


def _onward(address: str) -> str:
    """Where to go after entering: the page of this server that was asked for, or the first one.

    >>> _onward("/?part.substrate=brass"), _onward("//elsewhere.example/"), _onward("https://elsewhere.example")
    ('/?part.substrate=brass', '/', '/')
    """
    return address if re.fullmatch(r"/(?![/\\])[!-~]*", address) else "/"


@router.get("/problems")
def problems(request: Request) -> Response:
    return page(request, "problems.html", title="Problems", kinds=KINDS)


@router.get("/favicon.ico")
def mark() -> Response:
    """What browsers ask for beside a page that names no icon, as the sheets do."""
    return FileResponse(MARK, media_type="image/svg+xml")
