"""What a program asks first: the token that its writes need."""

from __future__ import annotations

from fastapi import APIRouter, Request

from kb.web.api import documents as d
from kb.web.api.common import ALWAYS, Json
from kb.web.desk import TheDesk
from kb.web.session import HEADER, token_of

router = APIRouter(responses=ALWAYS, tags=["session"])


@router.get("/session", responses=d.answer(d.SESSION))
def session(request: Request, desk: TheDesk) -> Json:
    """The token for the header field of each write, of the session that the answer's cookie holds; keep both."""
    settings = desk.settings
    token = token_of(request.state.session, settings.secret)
    said = {"header": HEADER, "who": desk.who, "today": settings.today().isoformat()}
    return Json({"schema": "tackroom.session/1", "token": token, **said})
