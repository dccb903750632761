"""Pages for people. Each takes its input from the address or a form, and works without scripts."""

from __future__ import annotations

from fastapi import APIRouter

from kb.web.pages import catalog, choose, day, door, pair, paper, why

router = APIRouter()
for module in (door, choose, why, pair, day, paper, catalog):
    router.include_router(module.router)
