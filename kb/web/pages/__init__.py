"""Pages for people. Each takes its input from the address or a form, and works without scripts."""

from __future__ import annotations

from fastapi import APIRouter

from kb.web.pages import (
    bench_run,
    catalog,
    choose,
    coverage,
    day,
    door,
    material,
    pair,
    paper,
    shelf,
    shelf_lot,
    shelf_receive,
    shelf_work,
    why,
)

router = APIRouter()
_ASKED = (door, choose, material, why, pair, day, bench_run, paper, catalog, coverage)
_SHELF = (shelf, shelf_lot, shelf_receive, shelf_work)
for module in (*_ASKED, *_SHELF):
    router.include_router(module.router)
