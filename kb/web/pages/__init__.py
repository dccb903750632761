"""Pages for people. Each takes its input from the address or a form, and works without scripts."""

from __future__ import annotations

from fastapi import APIRouter

from kb.web.pages import (
    catalog,
    choose,
    coverage,
    day,
    door,
    pair,
    paper,
    shelf,
    shelf_lot,
    shelf_receive,
    shelf_work,
    why,
)

router = APIRouter()
for module in (door, choose, why, pair, day, paper, catalog, coverage, shelf, shelf_lot, shelf_receive, shelf_work):
    router.include_router(module.router)
