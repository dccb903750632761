"""What the checks look at, and what they give."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from kb.base.files import read_toml
from kb.knowledge import Entry, Knowledge, knowledge_of
from kb.knowledge.build import build
from kb.knowledge.steps import reads
from kb.rules.form import RuleTable, load_rules
from kb.rules.rule import Rule

#: Statements that a check would flag and that are right all the same, each with its reason.
EXCEPTIONS_FILE = "lint.toml"


@dataclass(frozen=True)
class Tree:
    """The knowledge as files and as facts."""

    entries: Mapping[str, Entry]
    rules: tuple[tuple[Rule, RuleTable, str], ...]
    sources: Mapping[str, Mapping[str, Any]]
    tables: Mapping[str, Any]
    exceptions: Mapping[tuple[str, str], str]
    knowledge: Knowledge

    def step_facts(self) -> Iterator[tuple[str, str]]:
        """Every fact path that a step of a procedure reads, with the start of the step."""
        for step in self.tables["steps"]:
            for path in reads(step):
                yield path, step["do"][:40]


@dataclass(frozen=True)
class Problem:
    """One thing to mend: `where` is a file or an id, `what` says what is wrong and how to mend it."""

    check: str
    where: str
    what: str

    def __str__(self) -> str:
        return f"{self.where}: {self.what} [{self.check}]"


#: A check's lines of (where, what).
Found = Iterator[tuple[str, str]]
Check = Callable[[Tree], Found]


def plant(where: Mapping[str, Path]) -> Tree:
    """The tree as it stands in the files; BadInput at the first file that can't be loaded."""
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
    # Names are no statements, and a question decides nothing: a fact that only they speak of is not read.
    tables = {name: table for name, table in known.tables.items() if name not in ("lookup", "questions")}
    return Tree(known.entries, tuple(rules), known.sources, tables, exceptions, known)
