"""What the parts of the API share."""

from __future__ import annotations

import json
from typing import Annotated, Any

from fastapi import Depends, Request
from starlette.responses import Response

from kb.web.desk import Desk
from kb.web.problems import MEDIA_TYPE, Problem
from kb.web.session import HEADER, same, token_of


class Json(Response):
    """A document as the commands print it, on one line."""

    media_type = "application/json"

    def render(self, content: Any) -> bytes:
        return json.dumps(content, ensure_ascii=False, allow_nan=False).encode()


def desk_of(request: Request) -> Desk:
    found: Desk = request.app.state.desk
    return found


TheDesk = Annotated[Desk, Depends(desk_of)]


def writes(request: Request, desk: TheDesk) -> None:
    """Lets a write pass only with the token of its session, in a header."""
    if not same(request.headers.get(HEADER), token_of(request.state.session, desk.settings.secret)):
        raise Problem(403, "session", HEADER, "the session's token is missing or wrong", "GET /api/session gives it")


#: For `responses=` of an operation: what may go wrong, as OpenAPI says it.
_SHAPE: dict[str, Any] = {
    "type": "object",
    "properties": {
        "type": {"type": "string"}, "title": {"type": "string"}, "status": {"type": "integer"},
        "detail": {"type": "string"}, "where": {"type": "string"}, "what": {"type": "string"},
        "mend": {"type": "string"},
    },
    "required": ["type", "title", "status", "detail"],
}  # fmt: skip


def problems(**by_status: str) -> dict[int | str, dict[str, Any]]:
    """`responses` of the statuses named `s422` and so on, each with what it means."""
    return {
        int(status[1:]): {"description": meaning, "content": {MEDIA_TYPE: {"schema": _SHAPE}}}
        for status, meaning in by_status.items()
    }
