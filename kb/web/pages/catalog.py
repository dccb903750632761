"""The knowledge itself: items, rules and sources, to browse."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from kb.compiled import roots
from kb.errors import BadInput
from kb.identify import identify
from kb.report.hazards import hazards_in, wording
from kb.report.items import fact_rows, select, sources_of
from kb.report.rules import rules_json
from kb.vocabulary import FAMILIES, KINDS, VERDICTS
from kb.web.desk import Desk
from kb.web.pages.common import TheDesk
from kb.web.problems import Problem
from kb.web.render import page

router = APIRouter()
#: The first kind that is shown where none is asked for: what most come for.
FIRST = "substrate"


@router.get("/catalog")
def catalog(request: Request, desk: TheDesk) -> Response:
    """The items of a kind or family; or what typed words may mean."""
    words, kind, family = (request.query_params.get(n, "").strip() for n in ("words", "kind", "family"))
    kind = kind or FIRST
    entries = select(desk.known, kind, family or None)
    matches = identify(words, desk.known, KINDS) if words else None
    values: dict[str, Any] = {"words": words, "matches": matches, "kind": kind, "family": family, "entries": entries}
    return page(request, "catalog.html", title="Catalog", kinds=KINDS, families=FAMILIES[kind], **values)


@router.get("/catalog/{item}")
def one(item: str, request: Request, desk: TheDesk) -> Response:
    """Everything that is known of an item, and on what it stands."""
    entry = desk.known.entries.get(item)
    if entry is None:
        raise Problem(404, "not-found", item, "there is no such item", "look for it in the catalog")
    own = [(code, wording()["statements"].get(code, "")) for code in entry.facts.get("hazard_statements", ())]
    values: dict[str, Any] = {"facts": fact_rows(entry), "hazards": hazards_in(entry, desk.known), "own": own}
    values["sources"] = sources_of(entry, desk.known)
    return page(request, "item.html", title=entry.name, entry=entry, **values)


@router.get("/rules")
def rules(request: Request, desk: TheDesk) -> Response:
    """Every rule, or those of one verdict or with a word in them."""
    verdict, words = (request.query_params.get(n, "").strip() for n in ("verdict", "words"))
    if verdict and verdict not in VERDICTS:
        raise BadInput("verdict", f"'{verdict}' is no verdict", f"one of: {', '.join(VERDICTS)}")
    found = [
        rule
        for rule in _rules(desk).values()
        if verdict in ("", rule["verdict"]) and words.lower() in f"{rule['id']} {rule['title']}".lower()
    ]
    return page(request, "rules.html", title="Rules", rules=found, verdict=verdict, words=words, verdicts=VERDICTS)


@router.get("/rules/{rule}")
def one_rule(rule: str, request: Request, desk: TheDesk) -> Response:
    """One rule: what it says, why, on what it stands, and the cases that prove it."""
    found = _rules(desk).get(rule)
    if found is None:
        raise Problem(404, "not-found", rule, "there is no such rule", "look for it among the rules")
    cited = {source: desk.known.sources.get(source) for source in found["sources"]}
    return page(request, "rule.html", title=found["title"], rule=found, cited=cited)


@router.get("/sources")
def sources(request: Request, desk: TheDesk) -> Response:
    """The works that items and rules cite."""
    return page(request, "sources.html", title="Sources", sources=desk.known.sources)


def _rules(desk: Desk) -> dict[str, dict[str, Any]]:
    folder = desk.settings.workspace
    return _rules_of(desk.known.digest, folder if folder.is_dir() else None)


@lru_cache(maxsize=2)
def _rules_of(_digest: str, workspace: Path | None) -> dict[str, dict[str, Any]]:
    """The rules with their cases, which only the files hold, by id. Read once for each state of the knowledge."""
    return {rule["id"]: rule for rule in rules_json(roots(workspace))["rules"]}
