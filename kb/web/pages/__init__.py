"""Pages for people. Each takes its input from the address or a form, and works without scripts."""

from __future__ import annotations

from fastapi import APIRouter

from kb.web.pages import choose, door

router = APIRouter()
router.include_router(door.router)
router.include_router(choose.router)
