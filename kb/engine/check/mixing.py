"""Chemicals beside chemicals: what they do when they are mixed, or meet wet one after another, by their groups.

Only of things that no chain uses one after another: what a chain puts together, its rules judge.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations, product
from typing import NamedTuple

from kb.engine.check.things import Thing
from kb.knowledge import Entry, Knowledge
from kb.knowledge.derive import ROOM_C
from kb.rules.clauses import Facts
from kb.rules.findings import Finding
from kb.rules.roles import BESIDE_ROLES
from kb.rules.rule import Rule

_STOP = "stop: keep them apart, rinse and dry between them; their safety data sheets decide, and hold more than this"
_BECAUSE = "So says a chart for wastes, of the groups {one} and {other}: it tells what can happen in bulk."
#: Kinds that hold chemicals and lie finished in a chain: they are looked at only beside what is in no chain.
_IN_LAYERS = ("coating", "backing", "substrate", "abrasive")


def mixing(things: Sequence[Thing], knowledge: Knowledge) -> Iterator[Finding]:
    """Tell what is said of each two of the things that can't be part of one chain, the worst that their groups do."""
    for one, other in combinations(things, 2):
        if one.entry and other.entry and _meet_as_chemicals(one.kind, other.kind) and not _gas_around(one, other):
            table = knowledge.tables["reactivity"]
            cells = sorted(_of_pair(one.entry, other.entry, table), key=lambda cell: cell.badness)
            if cells:
                yield _finding(one.entry, other.entry, cells[-1])


def _meet_as_chemicals(one: str, other: str) -> bool:
    beside = {one, other} & set(BESIDE_ROLES)
    return (bool(beside) and "substrate" not in (one, other)) or (one == other and one not in _IN_LAYERS)


def _gas_around(one: Thing, other: Thing) -> bool:
    """Tell whether one is a gas around a glue or a coat: it meets what has cured, and is mixed with nothing."""
    products = {"adhesive", "coating"}
    boils = [t.entry.facts.get("boiling_point_c") for t in (one, other) if t.entry and t.kind == "substance"]
    return not products.isdisjoint((one.kind, other.kind)) and any(c is not None and c < ROOM_C for c in boils)


class _Cell(NamedTuple):
    """What two groups, by their names, do to each other."""

    groups: tuple[str, str]
    says: Facts

    @property
    def badness(self) -> tuple[bool, int]:
        """Whether it refuses, and how much it names."""
        return self.says["verdict"] == "block", len(self.says["does"])


def _of_pair(one: Entry, other: Entry, table: Facts) -> Iterator[_Cell]:
    for first, second in product(groups_of(one, table), groups_of(other, table)):
        says = table["cells"].get("|".join(sorted((first, second))))
        if says is not None:
            yield _Cell((_words(first, table), _words(second, table)), says)


def _words(group: str, table: Facts) -> str:
    return str(table["names"].get(group, group)).replace("-", " ")


def groups_of(entry: Entry, table: Facts) -> list[str]:
    """Give the groups that something belongs to, by what is in it or what it is made of."""
    facts = entry.facts
    holds = {entry.id, *facts.get("substances", ())}
    own = [group for group, substances in table["own"].items() if not holds.isdisjoint(substances)]
    made_of = table["aids"].get(facts.get("material", ""), ())
    return list(dict.fromkeys([*facts.get("reactive_groups", ()), *own, *made_of]))


def _finding(one: Entry, other: Entry, cell: _Cell) -> Finding:
    says, told = cell.says, cell.groups
    does = " and ".join(filter(None, (", ".join(says["does"][:-1]), says["does"][-1])))
    rule = Rule(
        id=f"mixing-{'-and-'.join(name.replace(' ', '-').replace(',', '') for name in sorted(told))}",
        title="Chemicals that are kept apart",
        verdict=says["verdict"],
        about=(one.kind,) if one.kind == other.kind else (one.kind, other.kind),
        message=f"{one.name} and {other.name}, mixed or wet one after another, can give {does}",
        because=says["because"] or _BECAUSE.format(one=told[0], other=told[1]),
        instead=_STOP if says["verdict"] == "block" else "not mixed: rinse and dry between them",
        basis=says["basis"],
        sources=tuple(says["sources"]),
        when=(),
    )
    names = ((one.kind, one.id, one.name), (other.kind, other.id, other.name))
    return Finding(rule, known=True, met=False, names=names, seen=(), unknown=(), calculations=(), wait_min=0.0)
