"""Checks on rules."""

from __future__ import annotations

from collections.abc import Iterator

from kb.base.errors import BadInput
from kb.lint.proof import faults
from kb.lint.tree import Found, Linter, Tree
from kb.rules.clauses import Condition, Ref, all_of, role_of
from kb.rules.roles import AROUND, JOB_ROLES, kinds_of
from kb.rules.rule import Rule


def unproven(tree: Tree) -> Found:
    """Rules whose own cases contradict them or leave a condition unproven."""
    for rule, table, where in tree.rules:
        try:
            said = faults(rule, table, tree.entries, where)
        except BadInput as fault:
            said = [f"{fault.what}; {fault.mend}" if fault.mend else fault.what]
        for what in said:
            yield where, what


def never_fires(tree: Tree) -> Found:
    """Rules whose conditions on one item no item of the catalog meets."""
    for rule, _, where in tree.rules:
        for role in sorted(rule.roles() | set(rule.about)):
            kinds = kinds_of(role)
            if not kinds:
                continue
            own = [c for c in rule.when if c.roles() == {role} and not _compares(c)]
            own = [c for c in own if f"{role}.{AROUND}" not in c.facts()]
            items = [e for e in tree.entries.values() if e.kind in kinds]
            scenes: Iterator[dict[str, object]] = ({role: e.facts} for e in items)
            if role == "cure":
                scenes = ({role: s} for e in items for s in e.facts["schedules"])
            met = any(all_of(c.truth(scene) for c in own) is True for scene in scenes)  # type: ignore[arg-type]
            if own and not met and all(c.truth({role: None}) is False for c in own):
                yield where, f"no {role} in the catalog meets its conditions"


def names_an_item(tree: Tree) -> Found:
    """Rules that hang on which item something is: one that is like it, under another name, would pass.

    What the job itself chose by name is read so.
    """
    for rule, _, where in tree.rules:
        for clause in (clause for condition in (*rule.when, *rule.needs) for clause in condition.clauses):
            chosen = isinstance(clause.value, Ref) and role_of(clause.value.fact) in JOB_ROLES
            for path in sorted(path for path in clause.facts() if path.endswith(".id") and not chosen):
                yield where, f"it reads {path}"


def recalled_block(tree: Tree) -> Found:
    """Shipped blocks that are only recalled and say not what would settle them: they would pass for laws of nature."""
    for rule, _, where in tree.rules:
        if rule.verdict == "block" and rule.basis == "memory" and not rule.settle and not rule.house:
            yield where, "it blocks by what is recalled alone"


def _compares(condition: Condition) -> bool:
    clauses = condition.clauses
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
                yield where, f"wherever it fires, '{other.id}' does too"


def contradiction(tree: Tree) -> Found:
    """Preferences that hold only where a block shuts out the same."""
    blocks = [r for r, _, _ in tree.rules if r.verdict == "block"]
    for rule, _, where in tree.rules:
        if rule.verdict != "prefer" or rule.omits:
            continue
        for block in blocks:
            if _conditions(block) <= _conditions(rule) and set(block.about) & set(rule.about):
                yield where, f"it prefers what '{block.id}' blocks"


LINTERS = (
    Linter("unproven", "rule", "add the case, or mend the rule", unproven),
    Linter("never-fires", "rule", "mend them, or add the item that it is for", never_fires),
    Linter("names-an-item", "rule", "say by which fact that item differs, and read the fact", names_an_item),
    Linter(
        "recalled-block",
        "rule",
        "name in `settle` the test or the fact that would lift it, or its source",
        recalled_block,
    ),
    Linter("covered", "rule", "take one out, or tell them apart", covered),
    Linter("contradiction", "rule", "mend one of them", contradiction),
)
