"""Checks on rules."""

from __future__ import annotations

import re
from collections.abc import Iterator

from kb.base.errors import BadInput, nearest
from kb.base.vocabulary import EXPOSURES
from kb.job import job_of
from kb.knowledge.catalog import MODELS, Schedule
from kb.knowledge.derive import DERIVED
from kb.lint.proof import faults
from kb.lint.tree import Found, Tree
from kb.rules.clauses import AnyOf, Condition, Ref, all_of
from kb.rules.roles import ROLES, SLOT_ROLES, kinds_of
from kb.rules.rule import Rule

_HOLE = re.compile(r"\{([a-z_]+(?:\.[a-zA-Z0-9_.-]+)?)\}")


def unproven(tree: Tree) -> Found:
    """Rules whose own cases contradict them or leave a condition unproven."""
    for rule, table, where in tree.rules:
        try:
            said = faults(rule, table, tree.entries, where)
        except BadInput as fault:
            said = [f"{fault.what}; {fault.mend}" if fault.mend else fault.what]
        for what in said:
            yield where, what


def known_facts() -> dict[str, set[str]]:
    """Every field that each role can have."""
    facts: dict[str, set[str]] = {}
    for role in ROLES:
        if role == "cure":
            fields = set(Schedule.model_fields)
        elif kinds := kinds_of(role):
            fields = set.intersection(*(_fields(kind) for kind in kinds))
        elif role == "chain":
            fields = {"possible", "ready_after_min"}
        else:
            fields = set(_job_facts()[role])
        facts[role] = fields | {"present"} if role in SLOT_ROLES else fields
    return facts


def _fields(kind: str) -> set[str]:
    fields = set(MODELS[kind].model_fields) | {"kind"} | set(DERIVED)
    if "hansen" in fields:
        fields |= {f"hansen.{axis}" for axis in ("d", "p", "h", "radius")}
    if "resists" in fields:
        fields |= {f"resists.{exposure}" for exposure in EXPOSURES}
    return fields


def _job_facts() -> dict[str, dict[str, object]]:
    """The facts of a job that gives everything."""
    full = {
        "part": {"substrate": "x", "thickness_mm": 1, "max_process_temperature_c": 60, "populated": True},
        "service": {"temperature_c": [0, 1], "peak": {"temperature_c": 2}, "cycles": 1},
        "limits": {"ready_within_h": 1},
    }
    return job_of(full, "lint").facts({})


def unknown_fact(tree: Tree) -> Found:
    """Rules, messages and steps that read what nothing can ever have: they would hang on it for good."""
    known = known_facts()
    for rule, _, where in tree.rules:
        in_message = (path for path in _HOLE.findall(rule.message))
        for path in dict.fromkeys((*rule.facts(), *in_message)):
            yield from _unknown(path, where, known)
    for path, step in tree.step_facts():
        yield from _unknown(path, f"steps: {step}", known)
    for step in tree.tables["steps"]:
        for path in (p for text in (step["do"], *step["must"], *step["never"]) for p in _HOLE.findall(text)):
            yield from _unknown(path, f"steps: {step['do'][:40]}", known)


def _unknown(path: str, where: str, known: dict[str, set[str]]) -> Found:
    role, _, name = path.partition(".")
    if role not in known:
        yield where, f"'{role}' is no role; {nearest(role, known)}"
    elif name and name not in known[role]:
        yield where, f"{path}: a {role} has no such fact; {nearest(name, known[role]) or 'see kb/catalog'}"


def never_fires(tree: Tree) -> Found:
    """Rules whose conditions on one item no item of the catalog meets."""
    for rule, _, where in tree.rules:
        for role in sorted(rule.roles() | set(rule.about)):
            kinds = kinds_of(role)
            if not kinds:
                continue
            own = [c for c in rule.when if c.roles() == {role} and not _compares(c)]
            items = [e for e in tree.entries.values() if e.kind in kinds]
            scenes: Iterator[dict[str, object]] = ({role: e.facts} for e in items)
            if role == "cure":
                scenes = ({role: s} for e in items for s in e.facts["schedules"])
            met = any(all_of(c.truth(scene) for c in own) is True for scene in scenes)  # type: ignore[arg-type]
            if own and not met and all(c.truth({role: None}) is False for c in own):
                yield where, f"no {role} in the catalog meets its conditions; mend them, or add the item that it is for"


def _compares(condition: Condition) -> bool:
    clauses = condition.clauses if isinstance(condition, AnyOf) else (condition,)
    return any(isinstance(c.value, Ref) for c in clauses)


def _conditions(rule: Rule) -> frozenset[str]:
    return frozenset(map(repr, rule.when))


def covered(tree: Tree) -> Found:
    """Blocks that fire only where another, about the same, fires anyway.

    Cautions may: two cautions say two things.
    """
    plain = [(r, where) for r, _, where in tree.rules if r.verdict == "block"]
    for rule, where in plain:
        for other, _ in plain:
            wider = _conditions(other) <= _conditions(rule)
            same = _conditions(other) == _conditions(rule) and other.id > rule.id
            if other is not rule and set(other.about) == set(rule.about) and wider and not same:
                yield where, f"wherever it fires, '{other.id}' does too; take one out, or tell them apart"


def contradiction(tree: Tree) -> Found:
    """Preferences that hold only where a block shuts out the same."""
    blocks = [r for r, _, _ in tree.rules if r.verdict == "block"]
    for rule, _, where in tree.rules:
        if rule.verdict != "prefer" or rule.omits:
            continue
        for block in blocks:
            if _conditions(block) <= _conditions(rule) and set(block.about) & set(rule.about):
                yield where, f"it prefers what '{block.id}' blocks; mend one of them"
