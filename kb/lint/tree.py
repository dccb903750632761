"""What the checks look at, and what they give."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from kb.base.files import read_toml
from kb.judged import Comparison, load_comparisons
from kb.knowledge import Entry, Knowledge, knowledge_of
from kb.knowledge.build import build, items_of
from kb.knowledge.catalog import Item
from kb.knowledge.steps import reads
from kb.rules.form import JUDGED, RuleTable, load_rules
from kb.rules.rule import Rule

#: Statements that a check would flag and that are right all the same, each with its reason.
EXCEPTIONS_FILE = "lint.toml"


@dataclass(frozen=True)
class Tree:
    """The knowledge as files and as facts."""

    #: Items as their files give them, before anything follows from them.
    items: Mapping[str, Item]
    entries: Mapping[str, Entry]
    rules: tuple[tuple[Rule, RuleTable, str], ...]
    sources: Mapping[str, Mapping[str, Any]]
    tables: Mapping[str, Any]
    exceptions: Mapping[tuple[str, str], str]
    knowledge: Knowledge
    #: Judged comparisons, each with how its file is shown.
    comparisons: tuple[tuple[Comparison, str], ...] = ()

    def step_facts(self) -> Iterator[tuple[str, str]]:
        """Give every fact path that a step of a procedure reads, with the start of the step."""
        for step in self.tables["steps"]:
            for path in reads(step):
                yield path, step["do"][:40]


@dataclass(frozen=True)
class Problem:
    """One thing to mend: `where` is a file or an id, `what` says what is wrong, `tip` what usually mends it."""

    check: str
    where: str
    what: str
    tip: str = ""

    def __str__(self) -> str:
        return f"{self.where}: {self.what}{'; ' if self.tip else ''}{self.tip} [{self.check}]"


#: A linter's lines of (where, what).
Found = Iterator[tuple[str, str]]


@dataclass(frozen=True)
class Linter:
    """One named check. `scope` is what it looks at one by one; `tip` mends most of what it finds."""

    name: str
    scope: Literal["item", "rule", "tree"]
    tip: str
    find: Callable[[Tree], Found]


def of_item(
    name: str, *kinds: type[Item], tip: str, shipped: bool = False
) -> Callable[[Callable[[Any], Iterator[str]]], Linter]:
    """Make a linter of a check on one item by itself, which yields what is wrong, a sentence each.

    `shipped`: a lab's own items need not keep it.
    """

    def made(check: Callable[[Any], Iterator[str]]) -> Linter:
        return of_item_in_tree(name, *kinds, tip=tip, shipped=shipped)(lambda item, _: check(item))

    return made


def of_item_in_tree(
    name: str, *kinds: type[Item], tip: str, shipped: bool = False
) -> Callable[[Callable[[Any, Tree], Iterator[str]]], Linter]:
    """Make a linter of a check on one item that looks at others, too."""

    def made(check: Callable[[Any, Tree], Iterator[str]]) -> Linter:
        def find(tree: Tree) -> Found:
            for item in tree.items.values():
                if isinstance(item, kinds) and not (shipped and item.house):
                    for what in check(item, tree):
                        yield item.id, what

        return Linter(name, "item", tip, find)

    return made


def plant(where: Mapping[str, Path]) -> Tree:
    """Give the tree as it stands in the files; BadInput at the first file that can't be loaded."""
    payload = build(where)
    rules = [
        (rule, table, str(path) if name.startswith("house") else f"{path.parent.name}/{path.name}")
        for name, folder in where.items()
        if name.endswith("rules")
        for rule, table, path in load_rules(folder, house=name.startswith("house"))
    ]
    exceptions = {
        (row["check"], place): row["reason"]
        for folder in where.values()
        if (folder / EXCEPTIONS_FILE).exists()
        for row in read_toml(folder / EXCEPTIONS_FILE).get("exceptions", [])
        for place in row["where"]
    }
    known = knowledge_of(payload, "lint")
    # Names are no statements, and a question or a spread decides nothing: a fact that only they speak of is not read.
    tables = {name: table for name, table in known.tables.items() if name not in ("lookup", "questions", "spreads")}
    judged = tuple(
        found
        for name, folder in where.items()
        if name.endswith("rules")
        for found in load_comparisons(folder / JUDGED, house=name.startswith("house"))
    )
    return Tree(items_of(where), known.entries, tuple(rules), known.sources, tables, exceptions, known, judged)
