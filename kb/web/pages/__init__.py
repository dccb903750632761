"""Pages for people. Each takes its input from the address or a form, and works without scripts."""

from __future__ import annotations

from fastapi import APIRouter

from kb.web.pages import choose, day, door, pair, paper, why

router = APIRouter()
for module in (door, choose, why, pair, day, paper):
    router.include_router(module.router)
