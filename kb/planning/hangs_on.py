"""What the answer to a job hangs on: facts that, moved within their spread, change its first chain or its refusal.

Looked at are the facts of the part and of every member of the first chain, its cure included; where there is no chain,
those of the part and of the treatments, backings, adhesives and coats. A number is moved to both ends of its spread,
and to each value on the way at which a rule's comparison turns; a grade of resistance or a level by one step. Whether
the answer changes is asked of the engine each time, with that fact alone changed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

from kb.engine.breakpoints import DIGITS, outward
from kb.engine.domain import Option
from kb.engine.plan import Engine, Plan
from kb.engine.turning import OptionFact, Turning
from kb.knowledge import Entry
from kb.knowledge.changed import restated, with_values
from kb.knowledge.index import option_facts
from kb.knowledge.spreads import ends
from kb.planning.supposed import PART, SUPPOSED
from kb.rules.clauses import Clause, Facts, Missing, Ref, Scene, Value, look_up
from kb.rules.roles import CHAIN_KINDS, SLOTS, kinds_of
from kb.rules.values import CURES, Told, basis_of, value_of

#: What stands in each slot; None where there is no chain.
Picks = tuple[Option, ...] | None
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
    search = _Search(engine, plan, prefer)
    # What is asked next is compared with this.
    engine.screened(plan.job, plan.substrate, prefer)
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
    return list(_Search(engine, plan, None).looked_at())


@dataclass(frozen=True)
class _Search:
    """The question that is asked again and again, with one fact changed."""

    engine: Engine
    plan: Plan
    prefer: str | None

    @property
    def now(self) -> Picks:
        return self.plan.chains[0].picks if self.plan.chains else None

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
        return frozenset(name for kind in OPENING for name in self._helping([e.id for e in self._of_kind(kind)]))

    def _helping(self, items: Sequence[str]) -> Iterator[str]:
        """Give those of some items of a kind that, freed of all rules, give a chain: all at once, then by halves."""
        if not items or not self.engine.possible_by(self.plan.job, self.plan.substrate, items, self.prefer):
            return
        if len(items) == 1:
            yield items[0]
            return
        half = len(items) // 2
        yield from self._helping(items[:half])
        yield from self._helping(items[half:])

    def _of_kind(self, kind: str) -> Sequence[Entry]:
        return self.engine.knowledge.by_kind.get(kind, ())

    def moved(self, entry: Entry, field: str) -> Iterator[Hang]:
        """Move one fact of an item within its spread; give where the answer changes, nearest on either side."""
        value = value_of(entry.facts, field)
        for end in ends(entry.facts, field, self.engine.knowledge.tables["spreads"]):
            at = self._first_change(entry, field, value, end)
            if at is not None:
                basis, locator = basis_of(entry.facts, field)
                to = self._answer(entry, field, at)
                owner = entry.id if entry.id in self.engine.knowledge.entries else PART
                yield Hang(f"{owner}.{field}", entry, field, value, basis, locator, at, to)

    def _first_change(self, entry: Entry, field: str, value: Value, end: Value) -> Value | None:
        """Find the nearest value towards `end` at which the answer is another; None where there is none."""
        if isinstance(value, str):
            return end if self._changes(entry, field, end) else None
        near = float(value)
        for at in [*self._turns(entry, field, near, end), end]:
            if self._changes(entry, field, at):
                return self._narrowed(entry, field, near, at)
            near = at
        return None

    def _narrowed(self, entry: Entry, field: str, same: float, other: float) -> float:
        """Halve between a value with the answer of now and one with another; the latter, in few digits."""
        for _ in range(HALVINGS):
            tried = outward((same + other) / 2, other)
            if tried in (same, other) or not min(same, other) < tried < max(same, other):
                break
            if self._changes(entry, field, tried):
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
                    for kind in kinds_of(role):
                        found.setdefault((kind, name), set()).add(limit)
        return found

    def _changes(self, entry: Entry, field: str, at: Value) -> bool:
        return self._answer(entry, field, at) != self.now

    def _answer(self, entry: Entry, field: str, at: Value) -> Picks:
        """Ask the engine what the first chain is with that one fact changed."""
        part, told = self.plan.substrate, [Told(field, at, SUPPOSED)]
        engine, job, prefer = self.engine, self.plan.job, self.prefer
        changed = restated(entry, told, engine.knowledge)
        if entry.kind not in CHAIN_KINDS:
            # A part's material stands in no slot: no more than the scene differs.
            if self.now is None and engine.says_same(job, changed, prefer):
                return None
            if self.now and engine.leaves_first(job, changed, self.now, prefer):
                return self.now
            # Apart: what comes next is compared with the job as it is, not with this one.
            return engine.apart().first(job, changed, prefer)
        read = self._read_of(entry, changed)
        if not read or not self._may_change(entry, changed, read):
            return self.now
        known = with_values(engine.knowledge, {entry.id: told})
        other = engine.restated(known, entry.kind, read)
        dearer = self._costs_other(entry, known.entries[entry.id])
        if self.now and not dearer and other.leaves_first(job, part, self.now, prefer):
            return self.now
        return _as_now(other.first(job, part, prefer), engine)

    def _may_change(self, entry: Entry, changed: Entry, read: set[OptionFact]) -> bool:
        """Tell whether the answer may be another by what is read of one of its items otherwise."""
        timed = self.plan.screened.timed
        turns = (
            turn for old, new in _options(entry, changed) for turn in self._turning.turned(entry.kind, old, new, read)
        )
        if self.now:
            return any(True for _ in turns) or self._costs_other(entry, changed)
        return any(turn.may_let_through(timed) for turn in turns) or (timed and self._costs_other(entry, changed))

    @cached_property
    def _turning(self) -> Turning:
        return self.engine.turning(self.plan.job, self.plan.substrate)

    def _read_of(self, entry: Entry, changed: Entry) -> set[OptionFact]:
        """List what differs of an item's options and is read by a rule, a step or the ranking."""
        old, new = (option_facts(entry.kind, [one.facts]) for one in (entry, changed))
        return {
            (cure, name)
            for cure, name in self.engine.knowledge.index[entry.kind]
            if any(one.get(name) != other.get(name) for one, other in zip(old[cure], new[cure], strict=True))
        }

    def _costs_other(self, entry: Entry, changed: Entry) -> bool:
        """Tell whether the item costs another number of points, or of minutes, by itself, in any slot of its kind."""
        ranking, service = self.plan.screened.ranking, self.plan.screened.scene["service"] or {}
        for slot in (name for name, slot in SLOTS.items() if slot.kind == entry.kind):
            for each in _options(entry, changed):
                one, other = ([price.points for price in ranking.of_option(slot, option, service)] for option in each)
                if one != other or ranking.minutes(slot, each[0]) != ranking.minutes(slot, each[1]):
                    return True
        return False


def _options(entry: Entry, changed: Entry) -> Iterator[tuple[Option, Option]]:
    """Give each option that an item is, as it was and as it is changed."""
    if entry.kind != "adhesive":
        yield Option(entry), Option(changed)
        return
    for cure, other in zip(entry.facts[CURES], changed.facts[CURES], strict=True):
        yield Option(entry, cure), Option(changed, other)


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


def _as_now(picks: Picks, engine: Engine) -> Picks:
    """Give what stands in a chain by the catalog as it is, so that it can be compared with the chain of now."""
    if picks is None:
        return None
    entries: Mapping[str, Entry] = engine.knowledge.entries
    return tuple(
        option
        if option.entry is None
        else Option(entries[option.id], _cure(entries[option.id].facts, option.cure["id"]) if option.cure else None)
        for option in picks
    )


def _cure(facts: Facts, name: str) -> Facts | None:
    return next((cure for cure in facts[CURES] if cure["id"] == name), None)


def _of_cures(facts: Facts, only: str) -> Iterator[str]:
    """Give the fields of an adhesive's cures, of one of them where that is in the chain."""
    for cure in facts.get(CURES, ()):
        if only in ("", cure["id"]):
            yield from (f"{CURES}.{cure['id']}.{name}" for name in cure if name != "id")


def _number(value: Value) -> float | None:
    known = isinstance(value, (int, float)) and not isinstance(value, (bool, Missing))
    return float(value) if known else None
