"""What is wrong with the knowledge, beyond what loading refuses: one small object per check.

Each check has a name, looks at the whole tree, and gives lines that say where, what and how to mend it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from kb.build import build
from kb.errors import BadInput
from kb.knowledge import Entry
from kb.proof import faults
from kb.rulebook import RuleTable, load_rules
from kb.rules import Rule


@dataclass(frozen=True)
class Tree:
    """All that the checks look at."""

    entries: Mapping[str, Entry]
    rules: tuple[tuple[Rule, RuleTable, str], ...]
    sources: Mapping[str, Mapping[str, object]]


@dataclass(frozen=True)
class Problem:
    """One thing to mend: `where` is a file or an id."""

    check: str
    where: str
    what: str

    def __str__(self) -> str:
        return f"{self.where}: {self.what} [{self.check}]"


Check = Callable[[Tree], Iterator[Problem]]


def plant(where: Mapping[str, Path]) -> Tree:
    """The tree as it stands in the files; BadInput at the first file that can't be loaded."""
    payload = build(where)
    rules = [
        (rule, table, f"{path.parent.name}/{path.name}")
        for name, folder in where.items()
        if name.endswith("rules")
        for rule, table, path in load_rules(folder, house=name.startswith("house"))
    ]
    return Tree({e[0]: Entry(*e) for e in payload["entries"]}, tuple(rules), payload["sources"])


def unproven(tree: Tree) -> Iterator[Problem]:
    """Rules whose own cases contradict them or leave a condition unproven."""
    for rule, table, where in tree.rules:
        try:
            said = faults(rule, table, tree.entries, where)
        except BadInput as fault:
            said = [f"{fault.what}; {fault.mend}" if fault.mend else fault.what]
        for what in said:
            yield Problem("unproven", where, what)


CHECKS: tuple[Check, ...] = (unproven,)


def lint(where: Mapping[str, Path]) -> list[Problem]:
    """Every problem of every check, in a stable order."""
    tree = plant(where)
    return [problem for check in CHECKS for problem in check(tree)]


if __name__ == "__main__":
    from kb.compiled import roots

    for problem in lint(roots(None)):
        print(problem)
