"""Say which facts each role can have, and which words each of them can hold: what a rule writes is held to both."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from functools import cache
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel

from kb.base import vocabulary as v
from kb.base.errors import near_or_all, nearest
from kb.base.surroundings import exposures, kinds_facts
from kb.job import Part, Service, job_of
from kb.knowledge import Entry
from kb.knowledge.catalog import MODELS, Schedule
from kb.knowledge.derive import DERIVED, OF_CURE
from kb.lint.proof import given_facts
from kb.lint.tree import Found, Linter, Tree
from kb.rules.clauses import Clause, Condition
from kb.rules.job_facts import job_facts
from kb.rules.roles import AROUND, BESIDE_ROLES, CHAIN_ROLE, ROLES, SLOT_ROLES, kinds_of

#: Where a message or a step names a role, or a fact of one.
HOLE = re.compile(r"\{([a-z_]+(?:\.[a-zA-Z0-9_.-]+)?)\}")
#: How like an item's value a word must be to be taken for it, where any word may stand.
_LIKENESS = 85.0


@cache
def known_facts() -> Mapping[str, set[str]]:
    """Give every field that each role can have."""
    facts: dict[str, set[str]] = {}
    for role in ROLES:
        if role == "cure":
            fields = {*Schedule.model_fields, *OF_CURE}
        elif kinds := kinds_of(role):
            fields = set.intersection(*(_fields(kind) for kind in kinds))
        elif role == CHAIN_ROLE:
            fields = {"possible", "critical_path_min"}
        else:
            fields = set(_job_facts()[role])
        facts[role] = fields | ({"present"} if role in SLOT_ROLES else {AROUND} if role in BESIDE_ROLES else set())
    return facts


def _fields(kind: str) -> set[str]:
    fields = set(MODELS[kind].model_fields) | {"kind"} | set(DERIVED)
    if "hansen" in fields:
        fields |= {f"hansen.{axis}" for axis in ("d", "p", "h", "radius")}
    if "resists" in fields:
        fields |= {f"resists.{exposure}" for exposure in v.EXPOSURES}
    return fields


def _job_facts() -> dict[str, dict[str, object]]:
    """Give the facts of a job that gives everything."""
    full = {
        "part": {"substrate": "x", "thickness_mm": 1, "max_process_temperature_c": 60, "populated": True},
        "service": {
            "temperature_c": [0, 1],
            "peak": {"temperature_c": 2},
            "cycles": 1,
            "thermal_cycles": 1,
            "exposures": [{"is": "sea-water-immersion", "cathodic_protection": True}],
        },
        "limits": {"ready_within_h": 1},
        "choose": {"adhesive": "x", "cure": "x", "backing": "x", "treatment": "x", "coatings": ["x", "x", "x"]},
    }
    return job_facts(job_of(full, "lint"), {})


def known_words(path: str) -> tuple[str, ...]:
    """Give every word that a fact can hold; none where any may stand in it.

    >>> known_words("service.measurement"), known_words("adhesive.pack_g")
    (('static', 'dynamic', 'both'), ())
    """
    role, _, field = path.partition(".")
    if role == "cure":
        return _words_of(Schedule, field)
    if kinds := kinds_of(role):
        return tuple(dict.fromkeys(word for kind in kinds for word in _words_of_kind(kind, field)))
    return _words_of_job(role, field)


def _words_of_kind(kind: str, field: str) -> tuple[str, ...]:
    lists = {"family": v.FAMILIES[kind], "hazards": v.HAZARDS, "kind": (kind,)}
    return v.RESISTANCE if field.startswith("resists.") else lists.get(field) or _words_of(MODELS[kind], field)


def _words_of_job(role: str, field: str) -> tuple[str, ...]:
    lists = {
        "part.surface": v.SURFACES,
        "service.exposures": v.EXPOSURES,
        "service.immersed_in": v.EXPOSURES,
        "service.creeps_in": v.EXPOSURES,
        **{f"service.{fact}": exposures()[exposure].kinds for exposure, fact in kinds_facts().items()},
        "gauge.backing": ("any", *v.FAMILIES["backing"]),
        "limits.exclude_hazards": v.HAZARDS,
    }
    models: Mapping[str, type[BaseModel]] = {"part": Part, "service": Service}
    return lists.get(f"{role}.{field}") or (_words_of(models[role], field) if role in models else ())


def _words_of(model: type[BaseModel], field: str) -> tuple[str, ...]:
    return tuple(_literals(model.model_fields[field].annotation)) if field in model.model_fields else ()


def _literals(annotation: Any) -> Iterator[str]:
    if get_origin(annotation) is Literal:
        yield from (word for word in get_args(annotation) if isinstance(word, str))
    else:
        for inner in get_args(annotation):
            yield from _literals(inner)


def unknown_fact(tree: Tree) -> Found:
    """Rules, their cases, messages and steps that read what nothing can ever have: they would hang on it for good."""
    for rule, table, where in tree.rules:
        calculated = (c.fact for condition in rule.when for c in condition.clauses if not isinstance(c.fact, str))
        results = {f"calc.{calculation.result}" for calculation in calculated}
        in_message = (path for path in HOLE.findall(rule.message) if path not in results)
        in_cases = (path for case in table.cases for path in given_facts(case))
        for path in dict.fromkeys((*rule.facts(), *in_message, *in_cases)):
            yield from _unknown_fact(path, where)
    for path, step in tree.step_facts():
        yield from _unknown_fact(path, f"steps: {step}")
    for step in tree.tables["steps"]:
        for path in (p for text in (step["do"], *step["must"], *step["never"]) for p in HOLE.findall(text)):
            yield from _unknown_fact(path, f"steps: {step['do'][:40]}")


def _unknown_fact(path: str, where: str) -> Found:
    known = known_facts()
    role, _, name = path.partition(".")
    if role not in known:
        yield where, f"'{role}' is no role; {near_or_all(role, known)}"
    elif name and name not in known[role]:
        yield where, f"{path}: a {role} has no such fact; {nearest(name, known[role]) or 'see kb/knowledge/catalog/'}"


def unknown_word(tree: Tree) -> Found:
    """Rules and their cases that write a word which their fact can't hold, or nearly one that an item has."""
    for rule, table, where in tree.rules:
        written = [pair for condition in (*rule.when, *rule.needs) for pair in _words_in(condition)]
        written += [
            (path, word) for case in table.cases for path, value in given_facts(case).items() for word in _words(value)
        ]
        for path, word in dict.fromkeys(written):
            if mend := _mend(path, word, tree.entries):
                yield where, f"{path}: '{word}' is none of its words; {mend}"


def _words_in(condition: Condition) -> Iterator[tuple[str, str]]:
    """Give each (fact, word) that a condition compares."""
    for clause in condition.clauses:
        if isinstance(clause, Clause) and isinstance(clause.fact, str):
            yield from ((clause.fact, word) for word in _words(clause.value))


def _words(value: Any) -> Iterable[str]:
    return [word for word in (value if isinstance(value, (list, tuple)) else [value]) if isinstance(word, str)]


def _mend(path: str, word: str, entries: Mapping[str, Entry]) -> str:
    """Tell what to write in place of a word; "" where it may stand."""
    if allowed := known_words(path):
        return "" if word in allowed else near_or_all(word, allowed)
    role, _, field = path.partition(".")
    held = {each for e in entries.values() if e.kind in kinds_of(role) for each in _words(e.facts.get(field))}
    return "" if word in held else nearest(word, held, _LIKENESS)


LINTERS = (
    Linter("unknown-fact", "rule", "facts stand in docs/reference.md", unknown_fact),
    Linter("unknown-word", "rule", "words stand in docs/reference.md", unknown_word),
)
