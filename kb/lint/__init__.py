"""What is wrong with the knowledge beyond what loading refuses: small linters, each with a name, a scope and a tip.

Those on single items hold a lab's own as well as what ships; many are data (generic_catalog/laws/). An exception
(lint.toml beside the knowledge) that no longer excuses anything is itself a problem.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path

from kb.lint import bonds, connections, facts, hazards, items, judged, rules, spans, substances, times
from kb.lint.laws import linter_of, load_laws
from kb.lint.tree import Linter, Problem, Tree, plant

__all__ = ["LINTERS", "Linter", "Problem", "Tree", "lint", "linters_in", "plant", "run"]

#: Those that are code, by name: first what is misspelt, since what else is wrong mostly follows from it.
LINTERS: dict[str, Linter] = {
    linter.name: linter
    for module in (facts, rules, times, items, hazards, substances, spans, bonds, connections, judged)
    for linter in module.LINTERS
}


def linters_in(where: Mapping[str, Path]) -> list[Linter]:
    """Give every linter: those that are code, and the laws that stand beside the catalogs."""
    catalogs = [folder for name, folder in where.items() if name.endswith("catalog")]
    return [*LINTERS.values(), *(linter_of(law) for folder in catalogs for law in load_laws(folder / "laws"))]


def run(tree: Tree, linters: Iterable[Linter]) -> list[Problem]:
    """Give every problem of `linters` that no exception excuses, then the exceptions that excuse nothing."""
    problems: list[Problem] = []
    used: set[tuple[str, str]] = set()
    ran: set[str] = set()
    for linter in linters:
        ran.add(linter.name)
        for where, what in linter.find(tree):
            if (linter.name, where) in tree.exceptions:
                used.add((linter.name, where))
            else:
                problems.append(Problem(linter.name, where, what, linter.tip))
    for name, where in sorted(set(tree.exceptions) - used):
        if name in ran:
            problems.append(Problem("stale-exception", where, f"excuses nothing of '{name}' any more", "take it out"))
    return problems


def lint(where: Mapping[str, Path]) -> list[Problem]:
    """Give every problem of every linter, in a stable order."""
    return run(plant(where), linters_in(where))
