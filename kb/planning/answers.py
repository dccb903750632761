"""What the answer to a job is when one fact of its part or of an item is another, told by as little work as tells it.

Most moves turn no rule that has a say in the job, and cost nothing else: they leave the answer as it is. Of what is
left, the search that was made tells nearly all (kb.engine.varied), and whether there is a chain now where there was
none is looked for among the chains with that item alone (kb.engine.relaxed).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from functools import cached_property
from math import fsum, inf
from typing import NamedTuple

from kb.engine.domain import Option
from kb.engine.plan import OF_OPTIONS, Engine, Plan
from kb.engine.rank import milliseconds
from kb.engine.relaxed import Relaxed
from kb.engine.search.reach import fastest, feasible
from kb.engine.settle import RuleConstraint
from kb.engine.turning import OptionFact, Turn, Turning
from kb.engine.varied import CannotTellError, Varied
from kb.knowledge import Entry
from kb.knowledge.changed import Restating, with_restated
from kb.knowledge.index import HEAT
from kb.planning.supposed import SUPPOSED
from kb.rules.clauses import Facts, Value
from kb.rules.roles import CHAIN_KINDS, SLOTS
from kb.rules.values import CURES, Told

#: What stands in each slot; None where there is no chain.
Picks = tuple[Option, ...] | None


class _Move(NamedTuple):
    """One fact of an item moved: the item with it, and what of its options is read otherwise by rules or ranking."""

    entry: Entry
    changed: Entry
    told: Told
    read: frozenset[OptionFact]

    def options(self) -> Iterator[tuple[Option, Option]]:
        """Give each option that the item is, as it was and as it is now."""
        if self.entry.kind != "adhesive":
            yield Option(self.entry), Option(self.changed)
            return
        for cure, other in zip(self.entry.facts[CURES], self.changed.facts[CURES], strict=True):
            yield Option(self.entry, cure), Option(self.changed, other)


@dataclass(frozen=True)
class Answers:
    """The answers to one job, each with one fact changed. The engine is for this alone, and has screened the job."""

    engine: Engine
    plan: Plan
    prefer: str | None

    @property
    def now(self) -> Picks:
        """What stands in the first chain as it is."""
        return self.plan.chains[0].picks if self.plan.chains else None

    @cached_property
    def relaxed(self) -> Relaxed:
        """What stands against the job."""
        return self.engine.relaxed(self.plan.job, self.plan.substrate, self.prefer)

    def changes(self, entry: Entry, field: str, at: Value) -> bool:
        """Tell whether the first chain is another, or there is one now, with that fact changed."""
        move = self._move(entry, field, at)
        if self.now is not None:
            return self._first(move) != self.now
        if entry.kind not in CHAIN_KINDS:
            engine = self.engine.apart()
            if engine.says_same(self.plan.job, move.changed, self.prefer):
                return False
            return feasible(engine.screened(self.plan.job, move.changed, self.prefer).unweighted_problem)
        return self._lets_through(move)

    def first(self, entry: Entry, field: str, at: Value) -> Picks:
        """Find what stands in the first chain with that fact changed."""
        return self._first(self._move(entry, field, at))

    def _move(self, entry: Entry, field: str, at: Value) -> _Move:
        told = Told(field, at, SUPPOSED)
        if entry.id not in self._restating:
            self._restating[entry.id] = Restating(entry, self.engine.knowledge)
        changed = self._restating[entry.id].with_values([told])
        index = self.engine.knowledge.index.get(entry.kind, {})
        return _Move(entry, changed, told, frozenset(fact for fact in _moved(entry, changed) if fact in index))

    def _first(self, move: _Move) -> Picks:
        engine, job, part = self.engine, self.plan.job, self.plan.substrate
        own: list[RuleConstraint] = []
        if move.entry.kind not in CHAIN_KINDS:
            # Apart: what comes next is compared with the job as it is, not with this one.
            engine, part = engine.apart(), move.changed
        else:
            own = self._repriced(move)
            if not own and not any(True for _ in self._turns(move)):
                return self.now
            engine = self._restated(move)
        if self.now is not None:
            with suppress(CannotTellError):
                places = self._varied.first([*engine.changes(job, part, self.prefer), *own])
                return None if places is None else self._at(places)
        places = engine.first(job, part, self.prefer)
        return None if places is None else self._at(places)

    def _at(self, places: Iterable[int]) -> Picks:
        """Give what stands at these places by the catalog as it is, so that it can be compared with the first chain."""
        return tuple(domain.options[place] for domain, place in zip(self.engine.domains, places, strict=True))

    def _restated(self, move: _Move) -> Engine:
        known = with_restated(self.engine.knowledge, {move.entry.id: move.changed}, {move.entry.id: [move.told]})
        return self.engine.restated(known, move.entry.kind, move.read)

    def _lets_through(self, move: _Move) -> bool:
        """Tell whether there is a chain with an item of which one fact is changed, where there was none."""
        timed = self.plan.screened.timed
        turns = [turn for turn in self._turns(move) if turn.may_let_through(timed)]
        own = [cost for cost in self._repriced(move) if cost.minutes < 0] if timed else []
        if not own and not turns:
            return False
        slots = [place for place, slot in enumerate(SLOTS.values()) if slot.kind == move.entry.kind]
        options = self.engine.domains[slots[0]].places({move.entry.id})
        if timed and self._too_late(slots, options, turns, own):
            return False
        engine, job, part = self._restated(move), self.plan.job, self.plan.substrate
        with suppress(CannotTellError):
            said = engine.said_otherwise(job, part, self.prefer)
            if not self.relaxed.possible_with(slots, options, said, own):
                return False
        return feasible(engine.screened(job, part, self.prefer).unweighted_problem)

    def _too_late(
        self, slots: Collection[int], options: int, turns: Collection[Turn], own: Iterable[RuleConstraint]
    ) -> bool:
        """Tell whether even the fastest chain with the item misses the limit, for all the time that is saved."""
        # Of several coats each may be the item: `own` has a row for each.
        saved = fsum(-cost.minutes for cost in own) + len(slots) * fsum(turn.saves_min for turn in turns)
        return saved < inf and self._late_ms(tuple(slots), options, any(turn.lifts for turn in turns)) > milliseconds(
            saved
        )

    def _late_ms(self, slots: tuple[int, ...], options: int, forbidden: bool) -> float:
        """Give by how much the fastest chain with one of these options is late; `forbidden` ones count as well."""
        key = (slots, options, forbidden)
        if key not in self._late:
            if forbidden:
                self._late[key] = self.relaxed.soonest_with(slots, options)
            else:
                every = (ms for slot in slots for ms, members in self._fastest[slot].items() if members & options)
                self._late[key] = min(every, default=inf) - (self.plan.screened.problem.limit_ms or 0)
        return self._late[key]

    @cached_property
    def _late(self) -> dict[tuple[tuple[int, ...], int, bool], float]:
        return {}

    @cached_property
    def _fastest(self) -> list[dict[int, int]]:
        return fastest(self.plan.screened.problem)

    @cached_property
    def _varied(self) -> Varied:
        return self.engine.apart().varied(self.plan.job, self.plan.substrate, self.prefer)

    @cached_property
    def _turning(self) -> Turning:
        return self.engine.turning(self.plan.job, self.plan.substrate)

    def _turns(self, move: _Move) -> Iterator[Turn]:
        """Give what reads the changed fact in this job, and may come to something else by it."""
        for old, new in move.options():
            yield from self._turning.turned(move.entry.kind, old, new, move.read)

    def _repriced(self, move: _Move) -> list[RuleConstraint]:
        """Give what the item costs more or less by itself, in each slot of its kind, one option after the other."""
        if self._own_facts(move.entry.kind).isdisjoint(move.read):
            return []
        ranking, service = self.plan.screened.ranking, self.plan.screened.scene["service"] or {}
        found = []
        for place, (slot, role) in enumerate(SLOTS.items()):
            if role.kind != move.entry.kind:
                continue
            for old, new in move.options():
                one, other = (sum(price.points for price in ranking.of_option(slot, x, service)) for x in (old, new))
                minutes = ranking.minutes(slot, new) - ranking.minutes(slot, old)
                if one != other or minutes:
                    found.append(RuleConstraint(None, {place: self._mask(place, old)}, other - one, minutes))
        return found

    def _own_facts(self, kind: str) -> frozenset[OptionFact]:
        """List the facts by which an option of a kind costs something by itself."""
        if kind not in self._own:
            ranking, service = self.plan.screened.ranking, self.plan.screened.scene["service"] or {}
            room = ranking.headroom.get(kind)
            paths = [*([HEAT[kind]] if kind in HEAT else ()), *(room.limits(service) if room else ())]
            named = {(role == "cure", name) for role, _, name in (path.partition(".") for path in paths)}
            self._own[kind] = frozenset(named | {(False, name) for name in OF_OPTIONS})
        return self._own[kind]

    @cached_property
    def _restating(self) -> dict[str, Restating]:
        return {}

    @cached_property
    def _own(self) -> dict[str, frozenset[OptionFact]]:
        return {}

    def _mask(self, place: int, option: Option) -> int:
        """Mark an option in its slot."""
        return 1 << next(at for at, here in enumerate(self.engine.domains[place].options) if _same(option, here))


def _same(one: Option, other: Option) -> bool:
    """Tell whether two options are the same item, with the same cure."""
    return one.id == other.id and (one.cure and one.cure["id"]) == (other.cure and other.cure["id"])


def _moved(entry: Entry, changed: Entry) -> Iterator[OptionFact]:
    """Give the facts of an item, and of its cures, that differ."""
    yield from ((False, name) for name in _differing(entry.facts, changed.facts))
    for cure, other in zip(entry.facts.get(CURES, ()), changed.facts.get(CURES, ()), strict=True):
        yield from ((True, name) for name in _differing(cure, other))


def _differing(one: Facts, other: Facts) -> Iterator[str]:
    yield from (name for name, value in other.items() if one.get(name) is not value and one.get(name) != value)
    yield from one.keys() - other.keys()
