"""Faults as answers: problem details (RFC 9457) for programs, a page with the same words for people."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from http import HTTPStatus
from typing import Any
from urllib.parse import parse_qsl, urlsplit

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from kb.base.errors import ACT, BAD_INPUT, NO_CHAIN, STORE, TackroomError, to_tell

MEDIA_TYPE = "application/problem+json"
#: What each kind of problem is, in a sentence. The page /problems lists them: each problem's type leads there.
KINDS = {
    "bad-input": "What was sent can't be used as it stands; the detail says what, where and how to mend it.",
    "must-act": "What was asked would break a rule of the shelf; nothing was recorded.",
    "no-chain": "No chain suits the job, so nothing that hangs on one can be answered.",
    "store": "The store is locked, damaged or refused a write; nothing is lost.",
    "not-found": "There is no such page or item.",
    "not-allowed": "The page knows no such request.",
    "session": "A write needs the token of the session that it belongs to.",
    "being-done": "The same write is being carried out just now; its answer can be had when it is done.",
    "busy": "Other long answers are being made; ask again in a moment.",
    "too-long": "The answer took too long, and was given up; ask for less.",
    "cross-origin": "A write must come from a page of this server.",
    "token-needed": "The server lets in only who has its token.",
    "sign-in-needed": "The server lets in only its people, by name and password.",
    "role": "Whoever asks may not record that in their role.",
    "too-many": "Too many wrong words came from that address; after a while it may try again.",
    "wrong-name": "The server was called by a name that isn't its own.",
    "too-large": "The body is larger than the server takes.",
    "too-slow": "The body took longer to come than the server waits.",
    "fault": "The program itself is at fault; it said so where it was started.",
}
_OF_EXIT = {BAD_INPUT: (422, "bad-input"), ACT: (409, "must-act"), NO_CHAIN: (409, "no-chain"), STORE: (503, "store")}
#: Problems that pass: when to ask again is said with them.
_AGAIN = (429, 503)
_OF_STATUS = {404: "not-found", 405: "not-allowed"}


#: What the door says of itself, and to whom it doesn't open, by the kind of problem.
_DOOR = {
    "sign-in-needed": "Only the people of this server see its pages.",
    "token-needed": "Only who has this server's token sees its pages.",
}
_WRONG = {
    "sign-in-needed": "Nobody has that name and that password. Try again, or ask whoever keeps the people.",
    "token-needed": "That is not the token of this server. Try again, or ask whoever started it.",
}


class Problem(Exception):
    """One fault of a request, in the words of `TackroomError`."""

    def __init__(self, status: int, kind: str, where: str, what: str, mend: str = "", retry_after: int = 5) -> None:
        super().__init__(what)
        self.status, self.kind, self.retry_after = status, kind, retry_after
        self.where, self.what, self.mend = to_tell(where), to_tell(what), to_tell(mend)

    @property
    def detail(self) -> str:
        said = f"{self.where}: {self.what}" if self.where else self.what
        return f"{said}; {self.mend}" if self.mend else said


def problem_of(fault: TackroomError) -> Problem:
    """Give the problem that a fault of the program's own kinds is."""
    status, kind = _OF_EXIT[fault.exit_status]
    where, what, mend = (_unoptioned(words) for words in (fault.where, fault.what, fault.mend))
    return Problem(status, kind, where, what, mend)


def _unoptioned(words: str) -> str:
    """Give the options of a command as the fields that they are here.

    >>> _unoptioned("or, if you must, --anyway with a --reason")
    'or, if you must, anyway with a reason'
    """
    return re.sub(r"(?<!\S)--(?=[a-z])", "", words)


def document(problem: Problem) -> dict[str, Any]:
    """RFC 9457 members, and the three parts of the detail on their own."""
    return {
        "type": f"/problems#{problem.kind}",
        "title": KINDS[problem.kind],
        "status": problem.status,
        "detail": problem.detail,
        "where": problem.where,
        "what": problem.what,
        "mend": problem.mend,
    }


def problem_response(request: Request, problem: Problem) -> Response:
    """Problem details below /api, a page elsewhere."""
    headers = {"Retry-After": str(problem.retry_after)} if problem.status in _AGAIN else {}
    if problem.status == 401:
        headers["WWW-Authenticate"] = "Bearer"
    if request.scope["path"].startswith("/api/"):
        body = json.dumps(document(problem), ensure_ascii=False)
        return Response(body, problem.status, headers, MEDIA_TYPE)
    from kb.web.faults import without_commands
    from kb.web.render import page

    at_the_door = request.scope["path"] == "/enter"
    if problem.status == 401 or (at_the_door and problem.kind in _DOOR):
        values = _at_the_door(request, problem, at_the_door)
        return page(request, "enter.html", status=problem.status, headers=headers, title="Enter", **values)
    values = {"problem": problem, "told": without_commands(problem.detail), "title": "Not done"}
    return page(request, "problem.html", status=problem.status, headers=headers, **values)


def _at_the_door(request: Request, problem: Problem, wrong: bool) -> dict[str, Any]:
    """Give the door itself in the place of the page that nobody sees who has not come in; it leads on to that page."""
    from kb.web.render import address_of

    onward = address_of(request) if request.method == "GET" else _came_from(request)
    if wrong:
        there = urlsplit(onward)
        # Whoever mistyped at the door goes on to where they wanted.
        onward = dict(parse_qsl(there.query)).get("next", "") if there.path == "/enter" else onward
    said = (_WRONG if wrong else _DOOR)[problem.kind]
    people = problem.kind == "sign-in-needed"
    if request.method != "GET" and not wrong:
        said = f"{said} What you typed is kept, and stands there again."
    return {"onward": onward or "/", "people": people, "said": said, "wrong": wrong}


def _came_from(request: Request) -> str:
    """Give the page of this server whose form was sent; "" where it isn't told, or is another server's."""
    there = urlsplit(request.headers.get("referer", ""))
    if not there.netloc or there.netloc != request.headers.get("host"):
        return ""
    return there.path + (f"?{there.query}" if there.query else "")


def fault_response(request: Request) -> Response:
    """Give the answer where the program itself is at fault; it tells nothing of the fault."""
    return problem_response(request, Problem(500, "fault", "", "this is a fault of the program", "report it"))


def install(app: FastAPI) -> None:
    """Make a problem of every fault that a request can bring about. (The program's own are the guard's to answer.)"""

    @app.exception_handler(TackroomError)
    async def _own(request: Request, fault: TackroomError) -> Response:
        return problem_response(request, problem_of(fault))

    @app.exception_handler(Problem)
    async def _problem(request: Request, fault: Problem) -> Response:
        return problem_response(request, fault)

    @app.exception_handler(RequestValidationError)
    async def _shape(request: Request, fault: RequestValidationError) -> Response:
        return problem_response(request, _problem_of_shape(fault.errors()[0]))

    @app.exception_handler(HTTPException)
    async def _http(request: Request, fault: HTTPException) -> Response:
        kind = _OF_STATUS.get(fault.status_code, "bad-input")
        if fault.status_code == 400:
            found = Problem(400, kind, "body", "can't be read", "send it as its content type says")
        else:
            said = HTTPStatus(fault.status_code).phrase.lower()
            found = Problem(fault.status_code, kind, request.scope["path"], said)
        response = problem_response(request, found)
        response.headers.update(fault.headers or {})
        return response


def _problem_of_shape(fault: Mapping[str, Any]) -> Problem:
    """Tell what is wrong with the shape of a request, named by its field."""
    where = ".".join(str(step) for step in fault["loc"] if step not in ("body", "query", "path", "header"))
    mend = "send a word of your own, a new one for each write" if where == "Idempotency-Key" else ""
    plain = {"missing": "is missing", "extra_forbidden": "is no field that is known here"}
    what = plain.get(fault["type"], str(fault["msg"]).removeprefix("Value error, "))
    return Problem(422, "bad-input", where or "body", what, mend)
