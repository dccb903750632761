"""What the knowledge covers, one substrate family at a time: all of them take minutes, which no page waits for."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from kb.base.errors import BadInput, nearest
from kb.engine.plan import Engine
from kb.planning.coverage import Cell, cell, columns, representatives
from kb.web.desk import TheDesk
from kb.web.render import page
from kb.web.workers import Lasting

router = APIRouter(route_class=Lasting)


@router.get("/coverage")
def coverage(request: Request, desk: TheDesk) -> Response:
    """The chain of a family's plainest member in each surrounding, or the rules that close it."""
    family = request.query_params.get("family", "").strip()
    members = representatives(desk.known)
    if family and family not in members:
        known = nearest(family, members) or f"one of: {', '.join(members)}"
        raise BadInput("family", f"'{family}' is no family of substrates", known)
    values: dict[str, Any] = {"families": list(members), "family": family, "cells": ()}
    values["rules"] = desk.known.rules_by_id
    if family:
        values["cells"] = _cells(desk.engine, family)
    return page(request, "coverage.html", title="Coverage", part=members.get(family), **values)


def _cells(engine: Engine, family: str) -> tuple[Cell, ...]:
    """Give a family of the map: some fifty plans, about a second."""
    entry = representatives(engine.knowledge)[family]
    return tuple(cell(engine, entry, column) for column in columns())
