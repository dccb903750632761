"""Faults in what takes time: steps and rules count each minute once."""

from __future__ import annotations

from collections.abc import Iterator

from kb.lint.tree import Found, Linter, Tree
from kb.rules.roles import kinds_of


def wait_counted_twice(tree: Tree) -> Found:
    """Find rules that add a wait which the procedure has already."""
    in_steps = set(_waits_of_steps(tree))
    for rule, _, where in tree.rules:
        if isinstance(rule.wait_min, str):
            role, _, name = rule.wait_min.partition(".")
            kinds = ("cure",) if role == "cure" else kinds_of(role)
            if any((kind, name) in in_steps for kind in kinds):
                yield where, f"wait: a step waits for {rule.wait_min} already"


def _waits_of_steps(tree: Tree) -> Iterator[tuple[str, str]]:
    """Give (kind, fact) of each wait of a step; a cure is told apart from its adhesive."""
    for step in tree.tables["steps"]:
        if isinstance(step["wait_min"], str):
            role, _, name = step["wait_min"].partition(".")
            yield from ((kind, name) for kind in (("cure",) if role == "cure" else kinds_of(role)))


LINTERS = (Linter("wait-counted-twice", "rule", "take the wait out of the rule", wait_counted_twice),)
