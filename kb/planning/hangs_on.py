"""What the answer to a job hangs on: facts that, moved within their spread, change its first chain or its refusal.

Looked at are the facts of the part and of every member of the first chain, its cure included; where there is no chain,
those of the part and of the treatments, backings, adhesives and coats. A number is moved to both ends of its spread,
and to each value on the way at which a rule's comparison turns; a grade of resistance or a level by one step. Whether
the answer changes is asked of the engine each time, with that fact alone changed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import product
from typing import NamedTuple

from kb.engine.breakpoints import DIGITS, outward
from kb.engine.plan import Engine, Plan
from kb.engine.relaxed import Relaxed
from kb.knowledge import Entry
from kb.knowledge.derive import OF_CURE
from kb.knowledge.spreads import ends
from kb.planning.answers import Answers, Picks
from kb.planning.supposed import PART
from kb.rules.clauses import Clause, Facts, Missing, Ref, Scene, Value, look_up
from kb.rules.roles import CHAIN_KINDS, kinds_of
from kb.rules.values import CURES, basis_of, value_of

#: Where there is no chain: the kinds of whose items it may hang on.
OPENING = ("treatment", "backing", "adhesive", "coating")
HALVINGS = 12


class Hang(NamedTuple):
    """One fact that the answer hangs on: where it changes, and to which chain."""

    fact: str
    entry: Entry
    field: str
    value: Value
    basis: str
    locator: str
    changes_at: Value
    to: Picks

    @property
    def nearness(self) -> float:
        """How far it is moved, as a share of what it is; a grade or a level counts as a whole."""
        if isinstance(self.value, str):
            return 1.0
        return float(abs(self.changes_at - self.value) / max(abs(self.value), 1.0))


def hangs_on(engine: Engine, plan: Plan, prefer: str | None = None) -> list[Hang] | None:
    """List what a plan hangs on, nearest first; None where the shelf decides, of which nothing is said here."""
    if plan.supplied is not None:
        return None
    engine = engine.apart()
    # What is asked next is compared with this.
    engine.screened(plan.job, plan.substrate, prefer)
    search = _Search(engine, plan, Answers(engine, plan, prefer))
    found = [
        hang
        for entry, fields in search.looked_at()
        if search.may_help(entry)
        for field in fields
        for hang in search.moved(entry, field)
    ]
    return sorted(found, key=lambda hang: (hang.nearness, hang.fact))


def looked_at(engine: Engine, plan: Plan) -> list[tuple[Entry, list[str]]]:
    """List the items that are looked at, each with the fields that have a spread."""
    return list(_Search(engine, plan, Answers(engine, plan, None)).looked_at())


@dataclass(frozen=True)
class _Search:
    """The question that is asked again and again, with one fact changed."""

    engine: Engine
    plan: Plan
    answers: Answers

    @property
    def now(self) -> Picks:
        return self.answers.now

    def looked_at(self) -> Iterator[tuple[Entry, list[str]]]:
        """Give the items that are looked at, each once, with the fields of each that have a spread."""
        part = self.plan.substrate
        found: dict[str, tuple[Entry, str]] = {part.id: (part, "")}
        if self.now is None:
            found |= {e.id: (e, "") for kind in OPENING for e in self._of_kind(kind)}
        for option in self.now or ():
            if option.entry is not None:
                found[option.entry.id] = (option.entry, option.cure["id"] if option.cure else "")
        rows = self.engine.knowledge.tables["spreads"]
        for entry, cure in found.values():
            names = [*entry.facts, *_of_cures(entry.facts, cure)]
            yield entry, [name for name in names if ends(entry.facts, name, rows)]

    def may_help(self, entry: Entry) -> bool:
        """Tell whether an item may matter: without a chain, only if it gives one when freed of all rules."""
        return self.now is not None or entry.kind not in CHAIN_KINDS or entry.id in self._helpful

    @cached_property
    def _helpful(self) -> frozenset[str]:
        items = ([entry.id for entry in self._of_kind(kind)] for kind in OPENING)
        return frozenset(name for of_kind in items for name in _helping(self.answers.relaxed, of_kind))

    def _of_kind(self, kind: str) -> Sequence[Entry]:
        return self.engine.knowledge.by_kind.get(kind, ())

    def moved(self, entry: Entry, field: str) -> Iterator[Hang]:
        """Move one fact of an item within its spread; give where the answer changes, nearest on either side."""
        value = value_of(entry.facts, field)
        for end in ends(entry.facts, field, self.engine.knowledge.tables["spreads"]):
            at = self._first_change(entry, field, value, end)
            if at is not None:
                basis, locator = basis_of(entry.facts, field)
                to = self.answers.first(entry, field, at)
                owner = entry.id if entry.id in self.engine.knowledge.entries else PART
                yield Hang(f"{owner}.{field}", entry, field, value, basis, locator, at, to)

    def _first_change(self, entry: Entry, field: str, value: Value, end: Value) -> Value | None:
        """Find the nearest value towards `end` at which the answer is another; None where there is none."""
        if isinstance(value, str):
            return end if self.answers.changes(entry, field, end) else None
        near = float(value)
        for at in [*self._turns(entry, field, near, end), end]:
            if self.answers.changes(entry, field, at):
                return self._narrowed(entry, field, near, at)
            near = at
        return None

    def _narrowed(self, entry: Entry, field: str, same: float, other: float) -> float:
        """Halve between a value with the answer of now and one with another; the latter, in few digits."""
        for _ in range(HALVINGS):
            tried = outward((same + other) / 2, other)
            if tried in (same, other) or not min(same, other) < tried < max(same, other):
                break
            if self.answers.changes(entry, field, tried):
                other = tried
            else:
                same = tried
        return other

    def _turns(self, entry: Entry, field: str, value: float, end: float) -> list[float]:
        """List the values on the way at which a rule's comparison with a number or a fact of the job turns."""
        found = self._limits.get((entry.kind, field.rpartition(".")[2]), ())
        step = math.copysign(max(abs(value), 1.0) * 10.0**-DIGITS, end - value)
        low, high = sorted((value, end))
        return sorted({x for at in found for x in (at, at + step) if low < x < high}, key=lambda x: abs(x - value))

    @cached_property
    def _limits(self) -> dict[tuple[str, str], set[float]]:
        """What a rule compares each fact of each kind with: numbers, and facts of the job."""
        found: dict[tuple[str, str], set[float]] = {}
        scene = self.plan.screened.scene
        for rule in self.engine.knowledge.rules:
            for clause in (c for condition in (*rule.when, *rule.needs) for c in condition.clauses):
                for path, limit in _compared(clause, scene):
                    role, _, name = path.partition(".")
                    for kind, stated in product(kinds_of(role), OF_CURE.get(name, (name,))):
                        found.setdefault((kind, stated), set()).add(limit)
        return found


def _helping(relaxed: Relaxed, items: Sequence[str]) -> Iterator[str]:
    """Give those of some items of a kind that, freed of all rules, give a chain: all at once, then by halves."""
    if not items or not relaxed.possible(items):
        return
    if len(items) == 1:
        yield items[0]
        return
    half = len(items) // 2
    yield from _helping(relaxed, items[:half])
    yield from _helping(relaxed, items[half:])


def _compared(clause: Clause, scene: Scene) -> Iterator[tuple[str, float]]:
    """Give each fact that a clause compares with a number, or with a fact that has one in `scene`, and that number."""
    if not isinstance(clause.fact, str):
        return
    if not isinstance(clause.value, Ref):
        if (limit := _number(clause.value)) is not None:
            yield clause.fact, limit
        return
    for own, other, plus in (
        (clause.fact, clause.value.fact, clause.value.plus),
        (clause.value.fact, clause.fact, -clause.value.plus),
    ):
        if (limit := _number(look_up(other, scene))) is not None:
            yield own, limit + plus


def _of_cures(facts: Facts, only: str) -> Iterator[str]:
    """Give the fields of an adhesive's cures, of one of them where that is in the chain."""
    for cure in facts.get(CURES, ()):
        if only in ("", cure["id"]):
            yield from (f"{CURES}.{cure['id']}.{name}" for name in cure if name not in ("id", *OF_CURE))


def _number(value: Value) -> float | None:
    known = isinstance(value, (int, float)) and not isinstance(value, (bool, Missing))
    return float(value) if known else None
