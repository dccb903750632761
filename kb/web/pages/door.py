"""The door of a server that others can reach, and what the kinds of problem mean."""

from __future__ import annotations

import re
from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Form, Request
from starlette.responses import FileResponse, RedirectResponse, Response

from kb.base.errors import one_line
from kb.web.acting import ENDS_S
from kb.web.desk import TheDesk
from kb.web.pages.common import of_this_session
from kb.web.problems import KINDS, Problem
from kb.web.render import page
from kb.web.session import COOKIE, ENTRY_COOKIE, FIELD, PERSON_COOKIE, WHO_COOKIE, entry_of, same
from kb.web.static_files import STATIC
from kb.work.people import LONGEST_NAME, LONGEST_PASSWORD

router = APIRouter()
MARK = STATIC / "mark.svg"


Onward = Annotated[str, Form(max_length=20_000)]
#: A device remembers for so long who records on it.
REMEMBERED_S = 400 * 24 * 3600


@router.get("/enter")
def door(request: Request) -> Response:
    people = bool(request.app.state.entrance.there())
    onward = _onward(request.query_params.get("next", ""))
    return page(request, "enter.html", title="Enter", onward=onward, people=people, said="", wrong=False)


@router.post("/enter")
def enter(
    request: Request,
    token: Annotated[str, Form(max_length=1000)] = "",
    name: Annotated[str, Form(max_length=LONGEST_NAME)] = "",
    password: Annotated[str, Form(max_length=LONGEST_PASSWORD)] = "",
    onward: Onward = "",
) -> Response:
    """Let in who has the server's token, or is one of its people; a wrong word is counted."""
    attempts, address = request.app.state.attempts, request.client.host if request.client else ""
    attempts.allow(address)
    cookie = _proof(request, token, name, password)
    if cookie is None:
        attempts.wrong(address)
        if request.app.state.entrance.there():
            raise Problem(403, "sign-in-needed", "name", "and password are nobody's", "ask whoever keeps the people")
        raise Problem(403, "token-needed", "token", "is not the one of this server", "ask whoever started it")
    response = RedirectResponse(_onward(onward), 303)
    if any(cookie):
        lasts = ENDS_S if cookie[0] == PERSON_COOKIE else None
        secure = request.url.scheme == "https"
        response.set_cookie(*cookie, max_age=lasts, httponly=True, samesite="strict", secure=secure)
    return response


def _proof(request: Request, token: str, name: str, password: str) -> tuple[str, str] | None:
    """Give the cookie of one who is let in, none ("", "") where nobody need be; None where the words are wrong."""
    settings, entrance = request.app.state.desk.settings, request.app.state.entrance
    if name and entrance.there():
        proof = entrance.entered(name, password)
        return (PERSON_COOKIE, proof) if proof else None
    if settings.token is None:
        return None if entrance.there() else ("", "")
    return (ENTRY_COOKIE, entry_of(settings.token, settings.secret)) if same(token, settings.token) else None


Leaving = Annotated[str, Form(alias=FIELD, max_length=200)]


@router.post("/leave")
def leave(request: Request, desk: TheDesk, session_token: Leaving = "") -> Response:
    """Forget on this device who was let in, and the session; the proof of it counts no more anywhere."""
    of_this_session(request, desk, session_token)
    if proof := request.cookies.get(PERSON_COOKIE):
        request.app.state.entrance.leave(proof)
    response = RedirectResponse("/enter", 303)
    for name in (ENTRY_COOKIE, PERSON_COOKIE, COOKIE):
        response.delete_cookie(name, httponly=True, samesite="strict")
    return response


@router.post("/who")
def who(
    request: Request,
    desk: TheDesk,
    session_token: Leaving = "",
    who: Annotated[str, Form(max_length=LONGEST_NAME)] = "",
    onward: Onward = "",
) -> Response:
    """Remember on this device who records."""
    of_this_session(request, desk, session_token)
    response = RedirectResponse(_onward(onward), 303)
    value, secure = quote(one_line(who)), request.url.scheme == "https"
    response.set_cookie(WHO_COOKIE, value, max_age=REMEMBERED_S, httponly=True, samesite="strict", secure=secure)
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
    """Tell where to go after entering: the page of this server that was asked for, or the first one.

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
