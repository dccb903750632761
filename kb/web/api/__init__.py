"""The API: the JSON documents that the commands give, over HTTP. Errors are problem details (RFC 9457)."""

from __future__ import annotations

from fastapi import APIRouter

from kb.web.api import answers
from kb.web.api.common import Json

__all__ = ["Json", "router"]

router = APIRouter()
router.include_router(answers.router)
