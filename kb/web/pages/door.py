"""The door of a server that others can reach, and what the kinds of problem mean."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, Form, Request
from starlette.responses import FileResponse, RedirectResponse, Response

from kb.web.problems import KINDS, Problem
from kb.web.render import page
from kb.web.session import ENTRY_COOKIE, entry_of, same

router = APIRouter()
MARK = Path(__file__).parents[1] / "static" / "mark.svg"


@router.get("/enter")
def door(request: Request) -> Response:
    return page(request, "enter.html", title="Enter", onward=_onward(request.query_params.get("next", "")))


@router.post("/enter")
def enter(
    request: Request,
    token: Annotated[str, Form(max_length=1000)] = "",
    onward: Annotated[str, Form(max_length=20_000)] = "",
) -> Response:
    settings = request.app.state.desk.settings
    if settings.token is not None and not same(token, settings.token):
        raise Problem(403, "token-needed", "token", "is not the one of this server", "ask whoever started it")
    response = RedirectResponse(_onward(onward), 303)
    if settings.token is not None:
        proof = entry_of(settings.token, settings.secret)
        secure = request.url.scheme == "https"
        response.set_cookie(ENTRY_COOKIE, proof, httponly=True, samesite="strict", secure=secure)
    return response


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
