"""A rule's own cases, run: does it fire, stay silent, or not tell, as the case says?

A case names what stands in each role: an item's id, a table of facts, or a table that starts from an item
(`{ like = "acetone", flammable = false }`). A slot that a case doesn't name is empty; a job fact that it
doesn't name is unknown.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from kb.base.errors import BadInput, near_or_all, nearest
from kb.knowledge import Entry
from kb.rules.clauses import NUMERIC, AnyOf, Clause, Condition, Truth, all_of
from kb.rules.form import Case, RuleTable
from kb.rules.roles import AROUND, BESIDE_ROLES, JOB_ROLES, ROLES, SLOT_ROLES, kinds_of
from kb.rules.rule import Rule


def scene_of(case: Case, entries: Mapping[str, Entry], where: str) -> dict[str, Mapping[str, Any] | None]:
    """Give the situation that `case` describes; BadInput where it names an item or role that doesn't exist."""
    scene: dict[str, Mapping[str, Any] | None] = dict.fromkeys(SLOT_ROLES)
    scene["substrate"] = {}
    scene |= {role: {} for role in (*JOB_ROLES, "chain")}
    for role, given in case.with_.items():
        if role not in ROLES:
            raise BadInput(where, f"case: '{role}' is not a role", near_or_all(role, ROLES))
        usual = {AROUND: False} if role in BESIDE_ROLES else {}
        scene[role] = {**usual, **_facts(role, given, entries, case, where)}
    return scene


def _facts(role: str, given: Any, entries: Mapping[str, Entry], case: Case, where: str) -> Mapping[str, Any]:
    kind = kinds_of(role)[0] if len(kinds_of(role)) == 1 else None
    if role == "cure" and isinstance(given, str):
        adhesive = case.with_.get("adhesive")
        adhesive = adhesive.get("like") if isinstance(adhesive, Mapping) else adhesive
        known = {s["id"]: s for s in _entry(adhesive, "adhesive", entries, where).facts["schedules"]}
        if given not in known:
            raise BadInput(where, f"case: '{adhesive}' has no schedule '{given}'", f"it has {', '.join(known)}")
        return dict(known[given])
    if isinstance(given, str):
        return _entry(given, kind, entries, where).facts
    if not isinstance(given, Mapping):
        raise BadInput(where, f"case: {role}: {given!r} is neither id nor table", "write an id or { fact = value }")
    facts: dict[str, Any] = dict(_entry(given["like"], kind, entries, where).facts) if "like" in given else {}
    for name, value in _flat({k: v for k, v in given.items() if k != "like"}).items():
        if value == "unknown":
            facts.pop(name, None)
        else:
            facts[name] = tuple(value) if isinstance(value, list) else value
    return facts


def given_facts(case: Case) -> dict[str, Any]:
    """Give the facts that a case gives by hand, as `role.field`; what it calls unknown is given as nothing."""
    tables = {
        role: {k: v for k, v in given.items() if k != "like"}
        for role, given in case.with_.items()
        if isinstance(given, Mapping)
    }
    return {path: () if value == "unknown" else value for path, value in _flat(tables).items()}


def _flat(table: Mapping[str, Any], prefix: str = "") -> dict[str, Any]:
    flat: dict[str, Any] = {}
    for key, value in table.items():
        path = f"{prefix}{key}"
        flat |= _flat(value, f"{path}.") if isinstance(value, Mapping) else {path: value}
    return flat


def _entry(item_id: Any, kind: str | None, entries: Mapping[str, Entry], where: str) -> Entry:
    entry = entries.get(item_id)
    if entry is None or (kind is not None and entry.kind != kind):
        known = [e.id for e in entries.values() if kind in (None, e.kind)]
        raise BadInput(where, f"case: there is no {kind or 'item'} '{item_id}'", nearest(str(item_id), known))
    return entry


def truths(rule: Rule, scene: Mapping[str, Mapping[str, Any] | None]) -> list[Truth]:
    """Give the truth of each condition, then (for a need) of "it is not supplied".

    The rule fires where all are True.
    """
    found: list[Truth] = [condition.truth(scene) for condition in rule.when]
    if rule.needs:
        supplied = all_of(need.truth(scene) for need in rule.needs)
        found.append(None if supplied is None else not supplied)
    return found


def faults(rule: Rule, table: RuleTable, entries: Mapping[str, Entry], where: str) -> list[str]:
    """Tell what the rule's cases leave unproven or contradict, a sentence each; empty where it proves itself."""
    said: list[str] = []
    alone: set[int] = set()
    at_limit: set[int] = set()
    carried: set[tuple[int, int]] = set()
    fired = False
    for number, case in enumerate(table.cases, start=1):
        scene = scene_of(case, entries, where)
        found = truths(rule, scene)
        together = all_of(found)
        outcome: bool | str = "unknown" if together is None else together
        if outcome != case.fires:
            said.append(f"case {number} says fires = {case.fires}, but it is {outcome}: {_shown(rule, found)}")
            continue
        if outcome is True:
            fired = True
            carried |= _carried(rule, scene)
        if found.count(False) == 1 and None not in found:
            alone.add(found.index(False))
        others = [all(t is True for t in (*found[:i], *found[i + 1 :])) for i in range(len(rule.when))]
        at_limit |= {i for i, c in enumerate(rule.when) if others[i] and _at_limit(c, scene)}
    if not fired:
        said.append("no case shows it firing")
    for index in range(len(rule.when) + bool(rule.needs)):
        if index not in alone:
            said.append(f"no case shows {_name(rule, index)} alone being false")
        if index < len(rule.when) and _numeric(rule.when[index]) and index not in at_limit:
            said.append(f"no case stands exactly at the limit of {_name(rule, index)}")
    for index, condition in enumerate(rule.when):
        for n in range(len(condition.clauses) if isinstance(condition, AnyOf) else 0):
            if (index, n) not in carried:
                said.append(f"no case fires through clause {n + 1} of {_name(rule, index)} alone")
    return said


def _carried(rule: Rule, scene: Mapping[str, Mapping[str, Any] | None]) -> set[tuple[int, int]]:
    """(condition, clause) of each `any` group that holds through one clause only."""
    found = set()
    for index, condition in enumerate(rule.when):
        if isinstance(condition, AnyOf):
            holding = [n for n, clause in enumerate(condition.clauses) if clause.truth(scene) is True]
            found |= {(index, holding[0])} if len(holding) == 1 else set()
    return found


def _numeric(condition: Condition) -> bool:
    """Tell whether a case at its limit is owed: a plain comparison of numbers. A calculation rarely hits its limit."""
    return isinstance(condition, Clause) and condition.op in NUMERIC and isinstance(condition.fact, str)


def _at_limit(condition: Condition, scene: Mapping[str, Mapping[str, Any] | None]) -> bool:
    if not _numeric(condition):
        return False
    left, right = condition.sides(scene)  # type: ignore[union-attr]
    return bool(left == right)


def _name(rule: Rule, index: int) -> str:
    if index == len(rule.when):
        return "the need being supplied (needs)"
    condition = rule.when[index]
    if isinstance(condition, Clause):
        fact = condition.fact if isinstance(condition.fact, str) else f"calc {condition.fact.name}"
        return f"condition {index + 1} ({fact} {condition.op})"
    return f"condition {index + 1} (any)"


def _shown(rule: Rule, found: list[Truth]) -> str:
    words = {True: "true", False: "false", None: "unknown"}
    return ", ".join(f"{_name(rule, i)} {words[t]}" for i, t in enumerate(found))
