"""What the rules say of things side by side: the planner's own conjunctions of each rule, asked of a few slots only.

A slot in which nothing named stands is open: a rule that reads it has nothing to say, unless what it needs stands
there. So a refusal here is a refusal in every chain that holds the things so.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import NamedTuple

from kb.base.vocabulary import PROOF_STAGE, STAGES
from kb.engine.chain import scene_with
from kb.engine.check.layout import Layout
from kb.engine.check.things import COLD, HOT, Situation
from kb.engine.domain import Domain
from kb.engine.grounding import Conjunction, Grounder
from kb.engine.search.masks import positions_of
from kb.engine.slots import NAMES, Binding, bindings
from kb.rules.clauses import role_of
from kb.rules.findings import Finding, judge
from kb.rules.relations import EXPOSURE, meet
from kb.rules.roles import BESIDE_ROLES, CHAIN_ROLE, JOB_ROLES, SLOT_ROLES, SLOTS, kinds_of
from kb.rules.rule import Rule

#: From good to bad. What is not known is no approval, and not as bad as what must be read.
VERDICTS = ("compatible", "not-known", "caution", "needs", "blocked")
EXPOSED = "service.exposures"
#: Who may have a part in what a rule says: the slots in which things stand, and these.
PART, JOB, GAUGE = "substrate", "job", "gauge"
Party = int | str


class Heard(NamedTuple):
    """A rule that speaks: what it says, of whom, and whether that bears on how they go together.

    What does not is said all the same: care in handling, and needs that another stage meets as usual.
    """

    finding: Finding
    parties: frozenset[Party]
    bears: bool
    #: Whether it shuts out one thing by itself, used so: then that is no use of it at all.
    alone: bool
    #: How bad it is, as a place in VERDICTS; 0 where it doesn't bear on how they go together.
    rank: int


class _Spoken(NamedTuple):
    """A conjunction of a rule, with what is asked of it again and again."""

    rule: Rule
    conjunction: Conjunction
    supplies: tuple[Binding, ...]
    #: The slots that it reads, those of what it needs among them.
    slots: tuple[int, ...]
    #: Whether it can tell the cures of an adhesive apart.
    cured: bool


class Hearing:
    """The rules that can speak in a situation, and what they said there of picks that were asked about before."""

    def __init__(self, grounders: Iterable[Grounder], domains: Sequence[Domain], situation: Situation) -> None:
        self.situation, self.domains = situation, domains
        self._kinds = frozenset(thing.kind for thing in situation.things)
        self._spoken = [
            _spoken_of(grounder.rule, conjunction)
            for grounder in grounders
            if self._may_speak(grounder.rule) and grounder.decided(situation.scene) is not False
            for conjunction in grounder.conjunctions(situation.scene, domains)
        ]
        self._alive: dict[tuple[int, int], int] = {}
        self._within: dict[frozenset[int], int] = {}
        self._known: dict[tuple[object, ...], Heard | None] = {}

    def says(self, layout: Layout) -> list[Heard]:
        """Everything that is said of the things in this layout, in order of rules."""
        left = self._of_slots(frozenset(layout.picks))
        for slot, position in layout.picks.items():
            left &= self._of_option(slot, position)
        found = (self._heard(number, layout) for number in positions_of(left))
        return [heard for heard in found if heard is not None]

    def _of_slots(self, slots: frozenset[int]) -> int:
        """Give the conjunctions that read no other slots than these, as a mask."""
        if slots not in self._within:
            bits = (1 << n for n, p in enumerate(self._spoken) if slots.issuperset(p.conjunction.speaks))
            self._within[slots] = sum(bits)
        return self._within[slots]

    def _of_option(self, slot: int, position: int) -> int:
        """Give the conjunctions that may speak where this option stands in the slot, as a mask."""
        key = slot, position
        if key not in self._alive:
            bits = (1 << n for n, p in enumerate(self._spoken) if p.conjunction.speaks.get(slot, -1) >> position & 1)
            self._alive[key] = sum(bits)
        return self._alive[key]

    def _heard(self, number: int, layout: Layout) -> Heard | None:
        asked = self._spoken[number]
        picks = layout.picks
        stand: list[object] = [number]
        for slot in asked.slots:
            position = picks.get(slot)
            # Cures of one adhesive are told apart only by a rule that reads one.
            stand.append(self.domains[slot].options[position].id if position and not asked.cured else position)
        if asked.rule.needs:
            stand += sorted(layout.things)
        key = tuple(stand)
        if key not in self._known:
            supplies = [b for b in asked.supplies if picks.keys() >= b.roles.keys()]
            self._known[key] = self._said(asked.rule, asked.conjunction.binding, supplies, layout)
        return self._known[key]

    def _said(self, rule: Rule, binding: Binding, supplies: Sequence[Binding], layout: Layout) -> Heard | None:
        parties = self._parties(rule, binding, layout)
        if not parties - {JOB, GAUGE}:
            return None
        picks = {slot: self.domains[slot].options[position] for slot, position in layout.picks.items()}
        scene = scene_with(self.situation.scene, binding, picks)
        tried = [{**scene, **scene_with(self.situation.scene, b, picks)} for b in supplies]
        finding = judge(rule, scene, tried)
        if finding is None:
            return None
        if _supplies(rule) and not tried and not finding.known and all(c.truth(scene) for c in rule.when):
            # Nothing that is named could supply the need: then it is a need, and no unknown.
            finding = finding._replace(known=True, unknown=())
        if finding.met and rule.needs:
            parties |= {slot for b in supplies for slot in b.roles if slot in layout.things}
        between = len(parties) > 1 and rule.step_stage != PROOF_STAGE
        bears = between or rule.verdict == "block" or self._between(rule, layout)
        alone = finding.closes and rule.verdict == "block" and len(parties) == 1
        return Heard(finding, parties, bears, alone, rank_of(finding) if bears else 0)

    def _parties(self, rule: Rule, binding: Binding, layout: Layout) -> frozenset[Party]:
        """Tell who has a part in what the rule says."""
        found: set[Party] = {GAUGE} if GAUGE in rule.about else set()
        here, setting = self.situation, self.situation.setting
        read = {path for condition in rule.when for path in condition.facts()}
        for role in {*rule.about, *map(role_of, read)}:
            if role in SLOT_ROLES:
                found |= {binding.slots[role]} & layout.things.keys()
            elif role == PART:
                found.add(PART if here.part else JOB)
            elif role in BESIDE_ROLES:
                found.add(role)
            elif role == "service" and here.exposures and (EXPOSED in read or setting is None):
                if EXPOSED not in read or _asks_for_exposure(rule):
                    found.add(EXPOSURE)
            elif role == "part" and setting is None:
                found.add(PART)
            elif role in JOB_ROLES and setting is not None and (role != GAUGE or GAUGE not in rule.about):
                found.add(JOB)
        return frozenset(found)

    def _between(self, rule: Rule, layout: Layout) -> bool:
        """Tell whether what the rule needs is to be done between the things that are named.

        Then it is theirs to need.
        """
        stages = [STAGES.index(SLOTS[NAMES[slot]].stage) for slot in layout.things]
        first = -1 if self.situation.part else min(stages, default=-1)
        last = len(STAGES) if self.situation.exposures else max(stages, default=-1)
        if rule.wait_before:
            return first < STAGES.index(rule.wait_before) <= last
        kinds = {thing.kind for thing in self.situation.things}
        places = {slot for binding in _supplies(rule) for slot in binding.roles} - layout.things.keys()
        return any(
            first < STAGES.index(SLOTS[NAMES[slot]].stage) < last
            and sum(meet(SLOTS[NAMES[slot]].kind, kind) for kind in kinds) > 1
            for slot in places
        )

    def _may_speak(self, rule: Rule) -> bool:
        """Tell whether everything that the rule must see is named, or known of the job."""
        here = self.situation
        roles = {*rule.about, *(role for condition in rule.when for role in condition.roles())}
        if rule.omits or CHAIN_ROLE in roles:
            return False
        for role in roles:
            known = role in here.scene if role == PART or role in BESIDE_ROLES else True
            if not known or (role in SLOT_ROLES and self._kinds.isdisjoint(kinds_of(role))):
                return False
        return here.setting is not None or not self._hangs_on_job(rule)

    def _hangs_on_job(self, rule: Rule) -> bool:
        """Tell whether a condition reads only what no job has said.

        What is exposed is judged all the same, and how long or how hot for is then not known; so is what was said to
        be so hot or cold.
        """
        absent = [clauses for clauses in _reads(rule) if all(any(map(self._untold, paths)) for paths in clauses)]
        if not absent:
            return False
        untold = (path for clauses in absent for clause in clauses for path in clause if self._untold(path))
        told = self.situation.exposures and (_asks_for_exposure(rule) or self._told_heat(rule))
        return not told or any(role_of(path) != "service" for path in untold)

    def _told_heat(self, rule: Rule) -> bool:
        """Tell whether it reads how hot or cold it gets, and that was said."""
        said = {f"service.{name}" for name in (*HOT, *COLD) if name in (self.situation.scene["service"] or {})}
        return any(not said.isdisjoint(paths) for clauses in _reads(rule) for paths in clauses)

    def _untold(self, path: str) -> bool:
        """Tell whether a fact is one of a job's that nobody gave, and that no job has that doesn't say it."""
        role, _, name = path.partition(".")
        return role in JOB_ROLES and name not in (self.situation.scene.get(role) or {})


def _spoken_of(rule: Rule, conjunction: Conjunction) -> _Spoken:
    supplies = _supplies(rule)
    slots = {*conjunction.binding.roles, *(slot for binding in supplies for slot in binding.roles)}
    return _Spoken(rule, conjunction, supplies, tuple(sorted(slots)), "cure" in rule.roles())


def supplied(finding: Finding) -> bool:
    """Tell whether it is a need that one of the things supplies."""
    return bool(finding.rule.needs) and finding.met


def rank_of(finding: Finding) -> int:
    """Tell how bad it is, as a place in VERDICTS; a need that something supplies is none any more."""
    said = finding.rule.verdict
    if said in ("prefer", "suits") or supplied(finding):
        return 0
    known = {"block": "blocked", "need": "needs"}.get(said, "caution")
    return VERDICTS.index(known if finding.known else "caution")


@lru_cache(maxsize=4096)
def _asks_for_exposure(rule: Rule) -> bool:
    """Tell whether it speaks only where something is exposed, and not only where it isn't."""
    return any(
        EXPOSED in clause.facts() and clause.op not in ("lacks", "is-not", "none-of")
        for condition in rule.when
        for clause in condition.clauses
    )


@lru_cache(maxsize=4096)
def _reads(rule: Rule) -> tuple[tuple[tuple[str, ...], ...], ...]:
    """Give the facts that each clause of each condition reads."""
    return tuple(tuple(tuple(clause.facts()) for clause in condition.clauses) for condition in rule.when)


@lru_cache(maxsize=4096)
def _supplies(rule: Rule) -> tuple[Binding, ...]:
    """Give every way in which what a rule needs may stand on slots; none where the job itself supplies it."""
    roles = frozenset(role for need in rule.needs for role in need.roles() if role in SLOT_ROLES)
    return bindings(roles) if roles else ()
