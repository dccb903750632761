"""The job against the knowledge: what each slot may hold, what that costs, and what joins the slots.

Nothing is dropped here without the rule that drops it: `closed` keeps, for each slot, which rule shuts out
which options, and `joins` the rules that only a combination breaks.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

from kb.clauses import Facts
from kb.engine.conjoin import Piece, Sets, pieces
from kb.engine.domain import EMPTY, Domain
from kb.engine.rank import Ranking
from kb.engine.slots import COATS, INDEX, SLOTS
from kb.engine.solve import Conjunction, Problem
from kb.knowledge import Knowledge
from kb.rules import STAGE_OF_SLOT, Rule

SLOT_OF_STAGE = {stage: slot for slot, stage in STAGE_OF_SLOT.items()}
#: What this rule forbids is a chain as a whole; the search itself keeps the time limit.
CHAIN_ROLE = "chain"


@dataclass(frozen=True, slots=True)
class Join:
    """A rule that forbids, or costs, a combination. No rule: the order of coats, which is structure."""

    rule: Rule | None
    sets: Sets
    cost: int = 0
    minutes: float = 0.0
    forbids: bool = False


@dataclass
class Screened:
    """A job made ready for the search."""

    knowledge: Knowledge
    scene: Mapping[str, Facts | None]
    domains: Sequence[Domain]
    ranking: Ranking
    rules: tuple[Rule, ...] = ()
    left: list[int] = field(default_factory=list)
    closed: list[list[tuple[Rule, int]]] = field(default_factory=list)
    joins: list[Join] = field(default_factory=list)
    soft: list[list[tuple[int, int, float]]] = field(default_factory=list)
    everywhere: tuple[int, float] = (0, 0.0)

    def problem(self) -> Problem:
        """The search problem that is left. Every slot's options are in the order of its domain."""
        service = self.scene["service"] or {}
        options = []
        for slot, domain in enumerate(self.domains):
            here = []
            for position, option in enumerate(domain.options):
                if not self.left[slot] >> position & 1:
                    continue
                cost = sum(points for _, _, points in self.ranking.of_option(SLOTS[slot], option, service).values())
                minutes = self.ranking.minutes(SLOTS[slot], option)
                for mask, points, wait in self.soft[slot]:
                    if mask >> position & 1:
                        cost += points
                        minutes += wait
                here.append((position, cost, minutes))
            options.append(tuple(here))
        rules = tuple(Conjunction(j.sets, j.cost, j.minutes, j.forbids) for j in self.joins)
        limit = (self.scene["limits"] or {}).get("ready_within_min")
        return Problem(tuple(options), rules, None if limit is None else limit - self.everywhere[1])


def screen(
    knowledge: Knowledge, scene: Mapping[str, Facts | None], domains: Sequence[Domain], ranking: Ranking
) -> Screened:
    """`scene` holds the substrate's facts and the job's tables."""
    job = Screened(knowledge, scene, domains, ranking)
    job.left = [domain.all for domain in domains]
    job.closed = [[] for _ in domains]
    job.soft = [[] for _ in domains]
    omits: dict[str, list[tuple[Rule, list[Piece]]]] = {stage: [] for stage in SLOT_OF_STAGE}
    live: list[Rule] = []
    for rule in knowledge.rules:
        if CHAIN_ROLE in rule.roles():
            live.append(rule)
            continue
        found = pieces(rule, scene, domains)
        if not found:
            continue
        live.append(rule)
        if rule.omits:
            omits[rule.omits].append((rule, found))
        else:
            for piece in found:
                _apply(job, rule, piece)
    job.rules = tuple(live)
    for stage, permits in omits.items():
        _permit_empty(job, INDEX[SLOT_OF_STAGE[stage]], permits)
    for slot in (INDEX["backing"], INDEX["adhesive"]):
        job.left[slot] &= ~EMPTY
    for lower, upper in pairwise(COATS):
        job.joins.append(Join(None, {lower: EMPTY, upper: domains[upper].all & ~EMPTY}, forbids=True))
    _settle(job)
    return job


def _apply(job: Screened, rule: Rule, piece: Piece) -> None:
    """A rule's piece as what it forbids for certain, and what it costs where it holds or may hold."""
    _, unknown = job.ranking.of_rule(rule, known=False)
    if rule.verdict == "prefer":
        if piece.sure is not None:
            job.joins.append(Join(rule, piece.sure, job.ranking.of_rule(rule, known=True)[1]))
        return
    if piece.sure != piece.perhaps:
        job.joins.append(Join(rule, piece.perhaps, unknown))
    if piece.sure is None:
        return
    if rule.verdict == "block" or rule.needs:
        job.joins.append(Join(rule, piece.sure, forbids=True))
        return
    points = job.ranking.of_rule(rule, known=True)[1] - (unknown if piece.sure != piece.perhaps else 0)
    for sets, minutes in _waits(job, rule, piece):
        job.joins.append(Join(rule, sets, points + job.ranking.of_minutes(minutes), minutes))


def _waits(job: Screened, rule: Rule, piece: Piece) -> list[tuple[Sets, float]]:
    """The sets of a rule that holds, split by the minutes that it adds."""
    sure = piece.sure or {}
    if not isinstance(rule.wait_min, str):
        return [(sure, float(rule.wait_min or 0.0) + rule.step_min)]
    role, _, name = rule.wait_min.partition(".")
    slot = piece.binding.slots[role]
    found = []
    for (minutes,), members in job.domains[slot].groups(((role, name),)).items():
        mask = sure[slot] & members
        if mask:
            found.append(({**sure, slot: mask}, float(minutes) if isinstance(minutes, (int, float)) else 0.0))
    return found


def _permit_empty(job: Screened, slot: int, permits: Sequence[tuple[Rule, Sequence[Piece]]]) -> None:
    """The slot may stay empty only where a rule that omits its stage holds; the search weighs it like any option."""
    forbidden: Sets | None = {slot: EMPTY}
    for rule, found in permits:
        for piece in found:
            if piece.sure is None:
                continue
            others = {s: mask for s, mask in piece.sure.items() if s != slot}
            points = job.ranking.of_rule(rule, known=True)[1]
            if points:
                job.joins.append(Join(rule, {**others, slot: EMPTY}, points))
            if not others:
                forbidden = None
            elif forbidden is not None:
                ((other, mask),) = others.items()
                forbidden[other] = forbidden.get(other, job.domains[other].all) & ~mask
    if forbidden is not None:
        job.joins.append(Join(None, forbidden, forbids=True))


def _settle(job: Screened) -> None:
    """Rules that, among what is left, concern one slot only are settled in it; repeated until nothing changes."""
    pending = job.joins
    while True:
        kept: list[Join] = []
        changed = False
        for join in pending:
            sets = _open(job, join)
            if 0 in sets.values():
                continue
            if len(sets) > 1:
                kept.append(join)
                continue
            changed = True
            _settle_one(job, join, sets)
        pending = kept
        if not changed:
            break
    job.joins = [replace(join, sets=_open(job, join)) for join in pending]


def _open(job: Screened, join: Join) -> Sets:
    """The sets of a rule in the slots that it still tells apart."""
    left = {slot: mask & job.left[slot] for slot, mask in join.sets.items()}
    return {slot: mask for slot, mask in left.items() if mask != job.left[slot]}


def _settle_one(job: Screened, join: Join, sets: Sets) -> None:
    if not sets:
        if join.forbids:
            for slot in join.sets or range(len(job.domains)):
                if join.rule is not None:
                    job.closed[slot].append((join.rule, job.left[slot]))
                job.left[slot] = 0
        else:
            job.everywhere = (job.everywhere[0] + join.cost, job.everywhere[1] + join.minutes)
        return
    ((slot, mask),) = sets.items()
    if join.forbids:
        if join.rule is not None:
            job.closed[slot].append((join.rule, mask))
        job.left[slot] &= ~mask
    else:
        job.soft[slot].append((mask, join.cost, join.minutes))
