"""What is wrong with the knowledge beyond what loading refuses: small checks, each with a name and a mend.

An exception (lint.toml beside the knowledge) that no longer excuses anything is itself a problem.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from kb.lint import facts, items, rules, times
from kb.lint.tree import Check, Problem, Tree, plant

__all__ = ["CHECKS", "Problem", "Tree", "lint", "plant", "run"]

CHECKS: dict[str, Check] = {
    # First what is misspelt, since what else is wrong mostly follows from it.
    "unknown-fact": facts.unknown_fact,
    "unknown-word": facts.unknown_word,
    "unproven": rules.unproven,
    "never-fires": rules.never_fires,
    "covered": rules.covered,
    "contradiction": rules.contradiction,
    "wait-counted-twice": times.wait_counted_twice,
    "unknown-source": items.unknown_source,
    "uncited-source": items.uncited_source,
    "unread-fact": items.unread_fact,
    "alias-two-ways": items.alias_two_ways,
    "unknown-substance": items.unknown_substance,
    "missing-range": items.missing_range,
    "dead-item": items.dead_item,
}


def run(tree: Tree, checks: Mapping[str, Check] = CHECKS) -> list[Problem]:
    """Every problem of `checks` that no exception excuses, then the exceptions that excuse nothing."""
    problems: list[Problem] = []
    used: set[tuple[str, str]] = set()
    for name, check in checks.items():
        for where, what in check(tree):
            if (name, where) in tree.exceptions:
                used.add((name, where))
            else:
                problems.append(Problem(name, where, what))
    for name, where in sorted(set(tree.exceptions) - used):
        if name in checks:
            problems.append(Problem("stale-exception", where, f"excuses nothing of '{name}' any more; take it out"))
    return problems


def lint(where: Mapping[str, Path]) -> list[Problem]:
    """Every problem of every check, in a stable order."""
    return run(plant(where))
