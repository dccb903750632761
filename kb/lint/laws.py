"""Laws that items keep, whatever their values: data in generic_catalog/laws/, each with a good and a bad example.

A law says: where `when` holds of an item, `then` holds too, the facts in `known` are given, and those in `absent` are
not. What isn't known breaks no law, but for the facts that a law wants known.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import Field

from kb.base.files import read_toml, toml_files, validated
from kb.base.models import Basis, Id, Strict, Text
from kb.lint.tree import Found, Linter, Tree
from kb.rules.clauses import AnyOf, Clause, Condition, Ref, all_of
from kb.rules.form import WhenTable

_ITEM = "item"


class LawTable(Strict):
    """A law as written. Facts are named as the item's file names them."""

    name: Id
    kinds: tuple[str, ...] = Field(min_length=1)
    says: Text
    tip: Text
    basis: Basis = "common-practice"
    shipped: bool = Field(False, description="a lab's own items need not keep it")
    when: tuple[WhenTable, ...] = ()
    then: tuple[WhenTable, ...] = ()
    known: tuple[str, ...] = ()
    absent: tuple[str, ...] = ()
    #: An item's id, or a table that starts from one: `{ like = "acetone", residue = "unknown" }`.
    good: str | dict[str, Any]
    bad: dict[str, Any]


class LawFile(Strict):
    laws: tuple[LawTable, ...]


@dataclass(frozen=True)
class Law:
    """A law as the lint holds it."""

    table: LawTable
    when: tuple[Condition, ...]
    then: tuple[Condition, ...]

    def faults(self, facts: Mapping[str, Any]) -> Iterator[str]:
        """Tell what an item with `facts` breaks of it."""
        scene = {_ITEM: facts}
        if not all_of(condition.truth(scene) for condition in self.when):
            return
        if any(condition.truth(scene) is False for condition in self.then):
            yield self.table.says
        for name in self.table.known:
            if name not in facts:
                yield f"{self.table.says}: {name} is not given"
        for name in self.table.absent:
            if name in facts:
                yield f"{self.table.says}: {name} is given"


def law_of(table: LawTable) -> Law:
    """Give the law in a table."""
    return Law(table, tuple(map(_of_item, table.when)), tuple(map(_of_item, table.then)))


def _of_item(written: WhenTable) -> Condition:
    """Give the condition with its facts put to the item's role."""
    condition = written.condition()
    if isinstance(condition, AnyOf):
        return AnyOf(tuple(_named(clause) for clause in condition.clauses))
    return _named(condition)


def _named(clause: Clause) -> Clause:
    value = clause.value
    if isinstance(value, Ref):
        value = Ref(f"{_ITEM}.{value.fact}", value.plus)
    return Clause(f"{_ITEM}.{clause.fact}", clause.op, value)


def load_laws(folder: Path) -> list[Law]:
    """Give every law in the files of `folder`, in a stable order."""
    return [
        law_of(table)
        for path in toml_files(folder)
        for table in validated(LawFile, read_toml(path, f"laws/{path.name}"), f"laws/{path.name}").laws
    ]


def linter_of(law: Law) -> Linter:
    """Give the law as a linter."""
    kinds, shipped = law.table.kinds, law.table.shipped

    def find(tree: Tree) -> Found:
        for entry in tree.entries.values():
            if entry.kind in kinds and not (shipped and entry.facts.get("house")):
                for what in law.faults(entry.facts):
                    yield entry.id, what

    return Linter(law.table.name, "item", law.table.tip, find)
