"""The knowledge itself: items, rules and sources, to browse."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from kb.base.errors import BadInput
from kb.base.vocabulary import FAMILIES, KINDS, VERDICTS
from kb.knowledge import Entry, Knowledge
from kb.materials.identify import identify
from kb.report.hazards import hazards_in
from kb.report.items import fact_rows, select, sources_of
from kb.report.pictures.pictograms import pictograms
from kb.report.text import capitalize_first
from kb.rules.clauses import AnyOf, Calculation, Clause, Condition, Ref
from kb.rules.roles import CHAIN_KINDS, kinds_of
from kb.rules.rule import Rule
from kb.rules.words import fact_words, named, outline, value_words
from kb.web.desk import TheDesk
from kb.web.naming import in_names
from kb.web.problems import Problem
from kb.web.render import page

router = APIRouter()
#: So many items stand in one table; more are folded family by family.
MOST_TOGETHER = 100
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
    families = [f for f in FAMILIES[kind] if any(e.family == f for e in entries)]
    apart = len(entries) > MOST_TOGETHER
    values["groups"] = [(f, [e for e in entries if e.family == f]) for f in families] if apart else [(kind, entries)]
    return page(request, "catalog.html", title="Catalog", kinds=KINDS, families=FAMILIES[kind], **values)


@router.get("/catalog/{item}")
def one(item: str, request: Request, desk: TheDesk) -> Response:
    """Everything that is known of an item, and on what it stands."""
    entry = desk.known.entries.get(item)
    if entry is None:
        raise Problem(404, "not-found", item, "there is no such item", "look for it in the catalog")
    facts = [(name, in_names(said, desk.known), basis) for name, said, basis in fact_rows(entry, in_words=True)]
    values: dict[str, Any] = {"facts": facts, "hazards": hazards_in(entry, desk.known)}
    values["drawings"] = pictograms(statement.code for statement in values["hazards"].statements)
    values["sources"] = sources_of(entry, desk.known)
    values["naming"] = [rule for rule in desk.known.rules if _names(rule, entry)]
    values["ruled"] = entry.kind in _RULED
    return page(request, "item.html", title=entry.name, entry=entry, **values)


@router.get("/rules")
def rules(request: Request, desk: TheDesk) -> Response:
    """Every rule, or those of one verdict, about one kind of item, or with a word in them."""
    verdict, kind, words = (request.query_params.get(n, "").strip() for n in ("verdict", "kind", "words"))
    if verdict and verdict not in VERDICTS:
        raise BadInput("verdict", f"'{verdict}' is no verdict", f"one of: {', '.join(VERDICTS)}")
    if kind and kind not in _RULED:
        raise BadInput("kind", f"'{kind}' is no kind that rules are about", f"one of: {', '.join(_RULED)}")
    found = [
        rule
        for rule in desk.rules()["rules"]
        if (not kind or kind in _kinds(rule["about"]))
        and verdict in ("", rule["verdict"])
        and words.lower() in f"{rule['id']} {rule['title']}".lower()
    ]
    chosen: dict[str, Any] = {"verdict": verdict, "kind": kind, "words": words}
    return page(request, "rules.html", title="Rules", rules=found, verdicts=VERDICTS, kinds=_RULED, **chosen)


@router.get("/rules/{rule}")
def one_rule(rule: str, request: Request, desk: TheDesk) -> Response:
    """One rule: what it says, why, on what it stands, and the cases that prove it."""
    found = next((row for row in desk.rules()["rules"] if row["id"] == rule), None)
    if found is None:
        raise Problem(404, "not-found", rule, "there is no such rule", "look for it among the rules")
    cited = {source: desk.known.sources.get(source) for source in found["sources"]}
    held = desk.known.rules_by_id.get(rule)
    values: dict[str, Any] = {
        "says": capitalize_first(outline(found["message"])),
        "when": [_told(c) for c in held.when] if held else [],
        "cases": [(case["fires"], _case(case["with"], desk.known)) for case in found["cases"]],
        "needs": [_told(c) for c in held.needs] if held else [],
    }
    return page(request, "rule.html", title=found["title"], rule=found, cited=cited, **values)


@router.get("/sources")
def sources(request: Request, desk: TheDesk) -> Response:
    """The works that items and rules cite."""
    return page(request, "sources.html", title="Sources", sources=desk.known.sources)


# -- what a rule is about, and when it speaks

#: What rules are about, kind by kind in the order of the catalog.
_RULED = tuple(kind for kind in KINDS if kind == "substrate" or kind in CHAIN_KINDS)


def _kinds(roles: Iterable[str]) -> set[str]:
    """Give the kinds of item that stand in these roles; a cure is its adhesive's.

    >>> sorted(_kinds(["liquid", "cure"]))
    ['adhesive', 'conditioner', 'degreaser', 'neutraliser']
    """
    return {kind for role in roles for kind in kinds_of(role)}


def _names(rule: Rule, entry: Entry) -> bool:
    """Tell whether a condition of the rule names the item itself or its family."""
    return any(
        clause.fact in (f"{role}.id", f"{role}.family")
        and clause.op in ("is", "one-of")
        and (entry.id if str(clause.fact).endswith(".id") else entry.family) in _listed(clause.value)
        and entry.kind in _kinds((role,))
        for clause in _clauses((*rule.when, *rule.needs))
        for role in clause.roles()
    )


def _listed(value: Any) -> tuple[Any, ...]:
    return tuple(value) if isinstance(value, (list, tuple)) else (value,)


def _clauses(conditions: tuple[Condition, ...]) -> Iterator[Clause]:
    for condition in conditions:
        yield from condition.clauses


def _told(condition: Condition) -> str:
    """Give a condition in words.

    >>> _told(AnyOf((Clause("adhesive.creep", "is", "high"), Clause("cure.temperature_c", "above", Ref("part.t", 5)))))
    'any of: creep of the adhesive is high; temperature of the cure is above t of the part + 5 degC'
    """
    if isinstance(condition, AnyOf):
        return f"any of: {'; '.join(map(_told, condition.clauses))}"
    fact, value = condition.fact, condition.value
    if isinstance(fact, Calculation):
        result, unit = named(fact.result)
        left = f"{result} by the calculation {fact.name}"
    else:
        left, unit = fact_words(fact), named(fact.partition(".")[2])[1]
    if isinstance(value, Ref):
        right = fact_words(value.fact)
        right += f" {'+' if value.plus > 0 else '-'} {value_words(abs(value.plus), unit)}" if value.plus else ""
    else:
        right = value_words(value, unit)
    does = condition.op if condition.op in ("is", "has", "lacks") else f"is {condition.op.removeprefix('is-')}"
    return f"{left} {does.replace('-', ' ')} {right}"


def _case(given: Mapping[str, Any], known: Knowledge) -> str:
    """Tell what a case of a rule is about, in words."""
    return "; ".join(_given(path, value, known) for path, value in given.items())


def _given(path: str, value: Any, known: Knowledge) -> str:
    return f"{fact_words(path).removeprefix('the ')}: {_value(path.partition('.')[2], value, known)}"


def _value(name: str, value: Any, known: Knowledge) -> str:
    if isinstance(value, Mapping):
        return ", ".join(f"{named(part)[0]} {_value(part, one, known)}" for part, one in value.items())
    entry = known.entries.get(value) if isinstance(value, str) else None
    return entry.name if entry else value_words(value, named(name)[1])
