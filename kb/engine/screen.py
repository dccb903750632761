"""The job against the knowledge: what each slot may hold, what that costs, and what joins the slots.

Nothing is dropped here without the rule that drops it: `closed_by` keeps, for each slot, which rule shuts out which
options, and `constraints` the rules that only a combination breaks.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from copy import copy
from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise
from typing import NamedTuple

from kb.engine.domain import EMPTY, Domain
from kb.engine.grounding import Conjunction, Grounder, Sets, intersection, job_values
from kb.engine.rank import Ranking
from kb.engine.readers import Readers
from kb.engine.screened import Grounded, Screened
from kb.engine.settle import Costs, Propagation, RuleConstraint
from kb.engine.slots import COATS, INDEX
from kb.engine.steps import TIMED
from kb.knowledge import Knowledge
from kb.rules.clauses import Facts, Scene
from kb.rules.roles import ALWAYS_FILLED, SLOT_OF_OMITS
from kb.rules.rule import Rule

#: Answers of one rule to different jobs that are kept; then they are forgotten, so that memory stays bounded.
MOST_KEPT = 128


class _Before(NamedTuple):
    """A job that was screened, what every rule came to in it, and what is left of it."""

    scene: Scene
    every: Sequence[Grounded | None]
    screened: Screened


@dataclass
class _Memory:
    """The job that was screened last, if any. Threads may share it, for the job is only ever replaced."""

    before: _Before | None = None


class Screener:
    """The rules under one ranking. What a rule comes to is kept by the values that it reads of the job."""

    def __init__(self, knowledge: Knowledge, domains: Sequence[Domain], ranking: Ranking, rules: Sequence[Grounder]):
        self.knowledge, self.domains, self.ranking = knowledge, domains, ranking
        self._rules: list[tuple[Grounder, dict[tuple[object, ...], Grounded | None]]] = [(g, {}) for g in rules]
        #: The rules by id, each by its numbers: a step of the procedure may wait for several things.
        self._numbers: dict[str, list[int]] = {}
        #: For each stage the rules by which it may be left out.
        self._omitting: dict[str, set[str]] = {}
        for number, grounder in enumerate(rules):
            self._numbers.setdefault(grounder.rule.id, []).append(number)
            if grounder.rule.omits:
                self._omitting.setdefault(grounder.rule.omits, set()).add(grounder.rule.id)
        self._readers = Readers(grounder.rule for grounder in rules)
        self._memory = _Memory()
        #: Rules that must be asked again, whatever the job before.
        self._anew: frozenset[int] = frozenset()

    def priced(self, ranking: Ranking) -> Screener:
        """Make the screener of a ranking that prices rules as its own does: what one of them screens, both know."""
        screener = copy(self)
        screener.ranking = ranking
        return screener

    def restated(
        self, knowledge: Knowledge, domains: Sequence[Domain], ranking: Ranking | None, readers: Iterable[int]
    ) -> Screener:
        """Take over what every rule came to, but for the `readers` of the facts in which the domains differ.

        No `ranking`: what an option costs by itself is what it was.
        """
        screener = copy(self)
        screener.knowledge, screener.domains, screener.ranking = knowledge, domains, ranking or self.ranking
        screener._rules, screener._memory = list(self._rules), _Memory(self._memory.before)
        screener._anew = frozenset(readers)
        for number in screener._anew:
            screener._rules[number] = (self._rules[number][0], {})
        return screener

    def said_otherwise(self, scene: Scene) -> list[tuple[Grounded | None, Grounded | None]]:
        """Give what rules came to in the job before and what they come to now, where that is not the same."""
        assert self._memory.before is not None
        before, last, _ = self._memory.before
        numbers = sorted(self._readers.of_changes(before, scene) | self._anew)
        pairs = ((last[number], self._grounded_rule(*self._rules[number], scene)) for number in numbers)
        return [(old, new) for old, new in pairs if old != new]

    def screen(self, scene: Scene) -> Screened:
        """Hold a job against every rule. `scene` holds the facts of its part and its own tables."""
        before = self._memory.before
        if before is not None and self._says_same(before.scene, scene):
            every, screened = before.every, self._as_before(before.screened, scene)
        else:
            every = self._grounded(scene)
            screened = self._screened(scene, [each for each in every if each is not None])
        # Scene and answers of one job: another thread may have put its own here meanwhile.
        self._memory.before = _Before(scene, every, screened)
        return screened

    def _says_same(self, before: Scene, now: Scene) -> bool:
        """Tell whether every rule says and costs the same in two jobs; what a wait costs hangs on the service."""
        return not self._anew and before["service"] == now["service"] and not self._readers.of_changes(before, now)

    def _as_before(self, before: Screened, scene: Scene) -> Screened:
        """Take over a job that was screened already, where no rule says otherwise of this one."""
        same = before.scene == scene and before.domains is self.domains
        if same and before.ranking is self.ranking:
            return before
        return replace(
            before,
            scene=scene,
            domains=self.domains,
            ranking=self.ranking,
            knowledge=self.knowledge,
            said=before.said if same else {},
        )

    def _screened(self, scene: Scene, every: Sequence[Grounded]) -> Screened:
        grounded = tuple(each for each in every if each.rule.verdict != TIMED)
        constraints = self._constraints_of(every)
        settled = self.unsettled()
        joining = settled.run([constraint for constraint in constraints if constraint.forbids])
        remaining = tuple(settled.remaining)
        costing = tuple(constraint for constraint in constraints if not constraint.forbids)
        return Screened(
            scene=scene,
            domains=self.domains,
            ranking=self.ranking,
            knowledge=self.knowledge,
            grounded=grounded,
            steps=tuple(each for each in every if each.rule.verdict == TIMED),
            remaining=remaining,
            closed_by=tuple(map(tuple, settled.closed_by)),
            forbidding=tuple(joining),
            costs=Costs(remaining, costing, partial(self.with_time, service=scene["service"] or {})),
        )

    def barred(self, scene: Scene, rules: frozenset[str], wanted: Sets) -> bool:
        """Tell whether these rules alone leave a job nothing for some slot, or none of the options `wanted`.

        A stage may be left out where a rule that is not asked allows it.
        """
        asked = sorted(number for rule in rules for number in self._numbers.get(rule, ()))
        every = [each for n in asked if (each := self._grounded_rule(*self._rules[n], scene)) is not None]
        hanging = [stage for stage in SLOT_OF_OMITS if self._omitting.get(stage, frozenset()) <= rules]
        constraints = [c for each in every for c in each.constraints] + self._structure(every, hanging)
        settled = self.unsettled()
        settled.run([constraint for constraint in constraints if constraint.forbids])
        return settled.leaves_nothing(wanted)

    def left_between(self, one: Scene, other: Scene) -> list[int]:
        """Mark for each slot the options that are left by the rules that say the same of two scenes."""
        moved = self._readers.of_changes(one, other)
        every = (self._grounded_rule(*pair, one) for n, pair in enumerate(self._rules) if n not in moved)
        settled = self.unsettled()
        settled.run([c for each in every if each is not None for c in each.constraints if c.forbids])
        return settled.remaining

    def constraints_in(self, scene: Scene) -> list[RuleConstraint]:
        """Lay out what a job's rules forbid and cost, without what minutes cost; and in which order coats stand."""
        return self._constraints_of([each for each in self._grounded(scene) if each is not None])

    def _constraints_of(self, every: Sequence[Grounded]) -> list[RuleConstraint]:
        return [*(c for each in every for c in each.constraints), *self._structure(every, SLOT_OF_OMITS)]

    def _structure(self, every: Sequence[Grounded], stages: Iterable[str]) -> list[RuleConstraint]:
        """Lay out which of these stages may be left out, at what cost, and in which order coats stand."""
        constraints: list[RuleConstraint] = []
        for stage in stages:
            permits = [each for each in every if each.rule.omits == stage]
            constraints += self._empty(INDEX[SLOT_OF_OMITS[stage]], permits)
        for lower, upper in pairwise(COATS):
            constraints.append(RuleConstraint(None, {lower: EMPTY, upper: self.domains[upper].filled}, forbids=True))
        return constraints

    def unsettled(self) -> Propagation:
        """Begin with every option of every slot."""
        always = {INDEX[slot] for slot in ALWAYS_FILLED}
        return Propagation([d.filled if slot in always else d.all for slot, d in enumerate(self.domains)])

    def _grounded(self, scene: Scene) -> list[Grounded | None]:
        """Ground every rule; those that read nothing that differs from the job before are as they were."""
        if (before := self._memory.before) is None:
            return [self._grounded_rule(grounder, kept, scene) for grounder, kept in self._rules]
        every = [*before.every]
        for number in self._readers.of_changes(before.scene, scene) | self._anew:
            every[number] = self._grounded_rule(*self._rules[number], scene)
        return every

    def _grounded_rule(
        self, grounder: Grounder, kept: dict[tuple[object, ...], Grounded | None], scene: Scene
    ) -> Grounded | None:
        """Ground one rule, or take what is `kept` from a job with the same values; None where it is silent."""
        decided = grounder.decided(scene)
        if decided is False:
            return None
        reads = grounder.slot_part.reads
        key = (decided, *job_values(reads, scene)) if reads else (decided,)
        # Another thread may empty it at any time.
        with suppress(KeyError):
            return kept[key]
        if len(kept) >= MOST_KEPT:
            kept.clear()
        found = kept[key] = self._ground(grounder, scene, decided is True)
        return found

    def _ground(self, grounder: Grounder, scene: Scene, known: bool) -> Grounded | None:
        rule = grounder.rule
        if grounder.slot_part.of_chain:
            return Grounded(rule, (), ())
        conjunctions = grounder.conjunctions(scene, self.domains)
        if not conjunctions:
            return None
        if not known:
            conjunctions = [conjunction._replace(certain=None) for conjunction in conjunctions]
        constraints = [] if rule.omits else [c for each in conjunctions for c in self._constraints(rule, each)]
        return Grounded(rule, conjunctions, constraints)

    def _constraints(self, rule: Rule, where: Conjunction) -> list[RuleConstraint]:
        """Tell what a rule forbids where it certainly holds, and what it costs where it certainly or possibly does."""
        certain = where.certain
        if rule.verdict == TIMED:
            # What may be needed is done.
            waits = self._waits(rule, where.binding.slots, where.possible)
            return [RuleConstraint(rule, sets, minutes=minutes) for sets, minutes in waits]
        if rule.verdict == "prefer":
            return [] if certain is None else [RuleConstraint(rule, certain, self.ranking.of_rule(rule, True).points)]
        unknown = self.ranking.of_rule(rule, known=False).points
        if certain == where.possible:
            unknown = 0
        constraints = [RuleConstraint(rule, where.possible, unknown)] if unknown else []
        if certain is None:
            return constraints
        if rule.verdict == "block" or rule.needs:
            return [*constraints, RuleConstraint(rule, certain, forbids=True)]
        points = self.ranking.of_rule(rule, known=True).points - unknown
        waits = self._waits(rule, where.binding.slots, certain)
        return [*constraints, *(RuleConstraint(rule, sets, points, minutes) for sets, minutes in waits)]

    def with_time(self, constraint: RuleConstraint, service: Facts) -> RuleConstraint:
        """Add what the minutes cost in this job; what is kept of a rule leaves it out, for it hangs on the service."""
        if not constraint.minutes:
            return constraint
        return constraint._replace(cost=constraint.cost + self.ranking.of_minutes(constraint.minutes, service).points)

    def _waits(self, rule: Rule, slots: Mapping[str, int], certain: Sets) -> Iterable[tuple[Sets, float]]:
        """Split the sets of a rule that holds by the minutes that it adds."""
        if not isinstance(rule.wait_min, str):
            yield certain, float(rule.wait_min or 0.0) + rule.delay_min
            return
        role, _, name = rule.wait_min.partition(".")
        slot = slots[role]
        for minutes, members in self.domains[slot].values(role, name).items():
            mask = certain[slot] & members
            if mask:
                wait = float(minutes) if isinstance(minutes, (int, float)) else 0.0
                yield {**certain, slot: mask}, wait + rule.delay_min

    def _empty(self, slot: int, permits: Sequence[Grounded]) -> list[RuleConstraint]:
        """Forbid the slot to stay empty but where a rule that omits its stage holds; empty is then an option as any."""
        costs: list[RuleConstraint] = []
        forbidden: list[Sets] = [{slot: EMPTY}]
        for rule, conjunctions, _ in permits:
            points = self.ranking.of_rule(rule, known=True).points
            for certain in (each.certain for each in conjunctions if each.certain is not None):
                here = intersection(certain, {slot: EMPTY})
                if here is None:
                    continue
                if points:
                    costs.append(RuleConstraint(rule, here, points))
                forbidden = [rest for sets in forbidden for rest in self._outside(sets, here, slot)]
        return costs + [RuleConstraint(None, sets, forbids=True) for sets in forbidden]

    def _outside(self, sets: Sets, here: Sets, slot: int) -> Iterable[Sets]:
        """Take `here` out of `sets`, as sets that don't overlap; `slot` is empty in both."""
        inside = dict(sets)
        for other, mask in here.items():
            if other == slot:
                continue
            all_here = inside.get(other, self.domains[other].all)
            if all_here & ~mask:
                yield {**inside, other: all_here & ~mask}
            if not all_here & mask:
                break
            inside[other] = all_here & mask
