"""The API: the JSON documents that the commands give, over HTTP. Errors are problem details (RFC 9457)."""

from __future__ import annotations

from fastapi import APIRouter

from kb.web.api import answers, catalog, door, events, recording, shelf, work
from kb.web.api.common import Json
from kb.web.api.describing import install

__all__ = ["Json", "install", "router"]

#: Its operations are called as their functions are.
router = APIRouter(generate_unique_id_function=lambda route: route.name)
for part in (answers, work, catalog, shelf, events, recording, door):
    router.include_router(part.router)
