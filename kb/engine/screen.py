"""The job against the knowledge: what each slot may hold, what that costs, and what joins the slots.

Nothing is dropped here without the rule that drops it: `closed` keeps, for each slot, which rule shuts out
which options, and `joins` the rules that only a combination breaks.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise
from typing import Any, NamedTuple

from kb.engine.domain import EMPTY, Domain
from kb.engine.grounding import Piece, Sets, Template, both, job_values
from kb.engine.rank import Ranking, milliseconds
from kb.engine.readers import Readers
from kb.engine.search.layers import Conjunction, Problem
from kb.engine.slots import COATS, INDEX, NAMES
from kb.job import NO_LIMIT_MIN
from kb.knowledge import Knowledge
from kb.rules.clauses import Facts, Scene
from kb.rules.findings import Finding
from kb.rules.roles import ALWAYS_FILLED, SLOT_OF_STAGE
from kb.rules.rule import Rule

#: Answers of one rule to different jobs that are kept; then they are forgotten, so that memory stays bounded.
MOST_KEPT = 128


class Join(NamedTuple):
    """A rule that forbids, or costs, a combination. No rule: the order of coats, which is structure."""

    rule: Rule | None
    sets: Sets
    cost: int = 0
    minutes: float = 0.0
    forbids: bool = False


class Said(NamedTuple):
    """What one rule comes to in one job: its pieces, and what they forbid or cost."""

    rule: Rule
    pieces: Sequence[Piece]
    joins: Sequence[Join]


@dataclass
class Screened:
    """A job made ready for the search."""

    scene: Scene
    domains: Sequence[Domain]
    ranking: Ranking
    knowledge: Knowledge
    said: tuple[Said, ...] = ()
    left: list[int] = field(default_factory=list)
    closed: list[list[tuple[Rule, int]]] = field(default_factory=list)
    joins: list[Join] = field(default_factory=list)
    soft: list[list[tuple[int, int, float]]] = field(default_factory=list)
    everywhere: tuple[int, float] = (0, 0.0)
    #: What rules said of picks, kept by kb.engine.refusals.
    heard: dict[tuple[Any, ...], Finding | None] = field(default_factory=dict)

    @property
    def rules(self) -> tuple[Rule, ...]:
        """The rules that speak of some chain for this job, or of chains as a whole."""
        return tuple(said.rule for said in self.said)

    @property
    def of_chains(self) -> tuple[Rule, ...]:
        """The rules that speak of a chain as a whole."""
        return tuple(rule for rule, pieces, _ in self.said if not pieces)

    @cached_property
    def problem(self) -> Problem:
        """The search problem that is left, in the positions of each slot's domain."""
        service = self.scene["service"] or {}
        options = []
        for slot, domain in enumerate(self.domains):
            levels = self.ranking.levels(NAMES[slot], domain, self.left[slot], service)
            dearer: dict[int, tuple[int, int]] = {}
            for mask, points, minutes in self.soft[slot]:
                known = dearer.get(mask, (0, 0))
                dearer[mask] = (known[0] + points, known[1] + milliseconds(minutes))
            for mask, (points, ms) in dearer.items():
                levels = _dearer(levels, mask, points, ms)
            options.append(levels)
        rules = tuple(Conjunction(j.sets, j.cost, milliseconds(j.minutes), j.forbids) for j in self.joins)
        return Problem(tuple(options), rules, self._limit_ms)

    @property
    def bare_problem(self) -> Problem:
        """The same where all that counts is whether a chain exists: without points, unless time is limited."""
        if self._limit_ms is not None:
            return self.problem
        rules = (Conjunction(join.sets, forbids=True) for join in self.joins if join.forbids)
        return Problem(tuple({(0, 0): left} if left else {} for left in self.left), tuple(rules))

    @property
    def _limit_ms(self) -> int | None:
        """The time that a chain may take beside what every chain takes."""
        limit = (self.scene["limits"] or {}).get("ready_within_min", NO_LIMIT_MIN)
        return None if limit >= NO_LIMIT_MIN else milliseconds(limit) - milliseconds(self.everywhere[1])


def _dearer(levels: Mapping[tuple[int, int], int], mask: int, points: int, ms: int) -> dict[tuple[int, int], int]:
    """`levels` with `points` and `ms` added for the options in `mask`."""
    found: dict[tuple[int, int], int] = {}
    for level, members in levels.items():
        inside = members & mask
        if inside:
            dearer = level[0] + points, level[1] + ms
            found[dearer] = found.get(dearer, 0) | inside
            members ^= inside
        if members:
            found[level] = found.get(level, 0) | members
    return found


class Screener:
    """The rules under one ranking. What a rule comes to is kept by the values that it reads of the job."""

    def __init__(self, knowledge: Knowledge, domains: Sequence[Domain], ranking: Ranking, rules: Sequence[Template]):
        self.knowledge, self.domains, self.ranking = knowledge, domains, ranking
        self._rules: list[tuple[Template, dict[tuple[Any, ...], Said | None]]] = [(t, {}) for t in rules]
        #: The job before, and what every rule came to in it. Threads may share it, for it is only ever replaced.
        self._before: tuple[Scene, list[Said | None]] | None = None

    @cached_property
    def _readers(self) -> Readers:
        return Readers(template.rule for template, _ in self._rules)

    def screen(self, scene: Mapping[str, Facts | None]) -> Screened:
        """`scene` holds the substrate's facts and the job's tables."""
        before = self._before
        if before is None:
            every = [self._said(template, kept, scene) for template, kept in self._rules]
        else:
            every = [*before[1]]
            for number in self._readers.of_changes(before[0], scene):
                every[number] = self._said(*self._rules[number], scene)
        self._before = scene, every
        said = tuple(found for found in every if found)
        job = Screened(scene, self.domains, self.ranking, self.knowledge, said)
        job.left = [domain.all for domain in self.domains]
        job.closed = [[] for _ in self.domains]
        job.soft = [[] for _ in self.domains]
        joins = [join for found in said for join in found.joins]
        for stage, slot in SLOT_OF_STAGE.items():
            joins += self._empty(INDEX[slot], [found for found in said if found.rule.omits == stage])
        for slot in ALWAYS_FILLED:
            job.left[INDEX[slot]] &= ~EMPTY
        for lower, upper in pairwise(COATS):
            joins.append(Join(None, {lower: EMPTY, upper: self.domains[upper].filled}, forbids=True))
        _settle(job, joins)
        return job

    def _said(self, template: Template, kept: dict[tuple[Any, ...], Said | None], scene: Scene) -> Said | None:
        decided = template.decided(scene)
        if decided is False:
            return None
        reads = template.apart.reads
        key = (decided, *job_values(reads, scene)) if reads else (decided,)
        if key not in kept:
            if len(kept) >= MOST_KEPT:
                kept.clear()
            kept[key] = self._spoken(template, scene, decided is True)
        return kept[key]

    def _spoken(self, template: Template, scene: Scene, known: bool) -> Said | None:
        rule = template.rule
        if template.apart.of_chain:
            return Said(rule, (), ())
        pieces = template.pieces(scene, self.domains)
        if not pieces:
            return None
        if not known:
            pieces = [piece._replace(sure=None) for piece in pieces]
        joins = [] if rule.omits else [join for piece in pieces for join in self._joins(rule, piece)]
        return Said(rule, pieces, joins)

    def _joins(self, rule: Rule, piece: Piece) -> list[Join]:
        """A rule's piece as what it forbids for certain, and what it costs where it holds or may hold."""
        if rule.verdict == "prefer":
            return [] if piece.sure is None else [Join(rule, piece.sure, self.ranking.of_rule(rule, True)[1])]
        _, unknown = self.ranking.of_rule(rule, known=False)
        if piece.sure == piece.perhaps:
            unknown = 0
        found = [Join(rule, piece.perhaps, unknown)] if unknown else []
        if piece.sure is None:
            return found
        if rule.verdict == "block" or rule.needs:
            return [*found, Join(rule, piece.sure, forbids=True)]
        points = self.ranking.of_rule(rule, known=True)[1] - unknown
        for sets, minutes in self._waits(rule, piece.binding.slots, piece.sure):
            found.append(Join(rule, sets, points + self.ranking.of_minutes(minutes), minutes))
        return found

    def _waits(self, rule: Rule, slots: Mapping[str, int], sure: Sets) -> list[tuple[Sets, float]]:
        """The sets of a rule that holds, split by the minutes that it adds."""
        if not isinstance(rule.wait_min, str):
            return [(sure, float(rule.wait_min or 0.0) + rule.step_min)]
        role, _, name = rule.wait_min.partition(".")
        slot = slots[role]
        found = []
        for minutes, members in self.domains[slot].values(role, name).items():
            mask = sure[slot] & members
            if mask:
                wait = float(minutes) if isinstance(minutes, (int, float)) else 0.0
                found.append(({**sure, slot: mask}, wait + rule.step_min))
        return found

    def _empty(self, slot: int, permits: Sequence[Said]) -> list[Join]:
        """The slot may stay empty only where a rule that omits its stage holds; it is then an option like any other."""
        joins: list[Join] = []
        forbidden: list[Sets] = [{slot: EMPTY}]
        for rule, pieces, _ in permits:
            points = self.ranking.of_rule(rule, known=True)[1]
            for sure in (piece.sure for piece in pieces if piece.sure is not None):
                here = both(sure, {slot: EMPTY})
                if here is None:
                    continue
                if points:
                    joins.append(Join(rule, here, points))
                forbidden = [rest for sets in forbidden for rest in self._outside(sets, here, slot)]
        return joins + [Join(None, sets, forbids=True) for sets in forbidden]

    def _outside(self, sets: Sets, here: Sets, slot: int) -> list[Sets]:
        """`sets` without `here`, as sets that don't overlap; `slot` is empty in both."""
        found: list[Sets] = []
        inside = dict(sets)
        for other, mask in here.items():
            if other == slot:
                continue
            all_here = inside.get(other, self.domains[other].all)
            if all_here & ~mask:
                found.append({**inside, other: all_here & ~mask})
            if not all_here & mask:
                break
            inside[other] = all_here & mask
        return found


def _settle(job: Screened, joins: Sequence[Join]) -> None:
    """Rules that, among what is left, concern one slot only are settled in it; repeated until nothing changes."""
    pending = [(join, join.sets) for join in joins]
    changed = True
    while changed:
        changed = False
        kept: list[tuple[Join, Sets]] = []
        for join, _ in pending:
            sets = _open(job.left, join.sets)
            if sets is None:
                continue
            if len(sets) > 1:
                kept.append((join, sets))
            else:
                changed = True
                _settle_one(job, join, sets)
        pending = kept
    job.joins = [Join(join.rule, sets, *join[2:]) for join, sets in pending]


def _open(left: Sequence[int], sets: Sets) -> Sets | None:
    """`sets` in the slots in which they still tell options apart; None where a slot has none of its set left."""
    found: Sets = {}
    for slot, mask in sets.items():
        here = mask & left[slot]
        if not here:
            return None
        if here != left[slot]:
            found[slot] = here
    return found


def _settle_one(job: Screened, join: Join, sets: Sets) -> None:
    """A rule that concerns one slot, or none: then it holds for every chain."""
    if not join.forbids:
        for slot, mask in sets.items():
            job.soft[slot].append((mask, join.cost, join.minutes))
        if not sets:
            job.everywhere = (job.everywhere[0] + join.cost, job.everywhere[1] + join.minutes)
        return
    for slot, mask in sets.items() or [(slot, job.left[slot]) for slot in join.sets or range(len(job.domains))]:
        if join.rule is not None:
            job.closed[slot].append((join.rule, mask))
        job.left[slot] &= ~mask
