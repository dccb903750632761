"""Two or more things side by side, with or without a job: do they go together? What `plan` would make of them.

There are four answers and a fifth. Nothing is compatible because no rule looked: where nothing speaks against the
things and nothing is positively known of them either, they are not known.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from itertools import permutations
from typing import NamedTuple

from kb.engine.check.hearing import PART, VERDICTS, Heard, Hearing, Party, rank_of
from kb.engine.check.layout import AS_FIRST, Layout, layouts
from kb.engine.check.mixing import mixing
from kb.engine.check.neighbours import Approvals, Pair, bridged, pairs_of
from kb.engine.check.strength import held_to, strength
from kb.engine.check.things import Setting, Situation, Thing, situations
from kb.engine.grounding import Grounder
from kb.engine.plan import Engine
from kb.rules.findings import Finding, distinct
from kb.rules.relations import Relation

NOT_KNOWN = "not-known"
_NEEDS = VERDICTS.index("needs")


class Unknown(NamedTuple):
    """Two things of which nothing is positively known; no relation where they never meet in a chain."""

    first: str
    second: str
    relation: Relation | None
    #: Whether both are materials of parts: a chain is bonded on one.
    parts: bool = False


class Use(NamedTuple):
    """One way to use the things, and what comes of it."""

    words: tuple[str, ...]
    verdict: str
    findings: tuple[Finding, ...]
    #: Whether the thing can be used so at all, whatever it goes with; if not, that is no use of it.
    possible: bool = True


@dataclass(frozen=True)
class Checked:
    """The verdict on some things, and what it rests on.

    `notes` is what is said of one thing by itself: to be read, and no part of the verdict. `uses` are the ways to use
    the things where these differ, the best first; `suits` is what is positively known, `unknown` where nothing is.
    """

    items: tuple[str, ...]
    verdict: str
    findings: tuple[Finding, ...]
    notes: tuple[Finding, ...] = ()
    suits: tuple[Finding, ...] = ()
    unknown: tuple[Unknown, ...] = ()
    uses: tuple[Use, ...] = ()
    #: The other orders of the coats where none was said, each with its verdict.
    orders: Mapping[tuple[str, ...], str] = field(default_factory=dict)


def check(engine: Engine, things: Sequence[Thing], setting: Setting | None = None) -> Checked:
    """Tell what the rules say of `things` together; of coats, and of two abrasives, the first named comes first.

    Every way to use them is judged: each cure of an adhesive, an abrasive dry and wet. What can't be used so by itself
    is no use; where of the others one is worse, only the best is compatible, and that is said.
    """
    return Bench(engine, setting).check(things)


def worst(verdicts: Iterable[str]) -> str:
    """Give the worst of some verdicts.

    >>> worst(["not-known", "compatible", "caution"])
    'caution'
    """
    return VERDICTS[max(map(VERDICTS.index, verdicts), default=0)]


def verdict_of(findings: Iterable[Finding]) -> str:
    """Give the worst of what is found."""
    return VERDICTS[max(map(rank_of, findings), default=0)]


class Bench:
    """Where things are judged for one job, or for none. What the rules come to is kept for things that come again."""

    def __init__(self, engine: Engine, setting: Setting | None = None) -> None:
        self.engine, self.setting = engine, setting
        self._heard: dict[tuple[object, ...], tuple[Hearing, Approvals]] = {}

    def check(self, things: Sequence[Thing]) -> Checked:
        """See `check`."""
        found = [self._situation(situation) for situation in situations(things, self.setting, self.engine.knowledge)]
        mixed = [*mixing(things, self.engine.knowledge), *strength(things)]
        held = () if self.setting else held_to(things)
        findings = distinct([*mixed, *(finding for one in found for finding in one.findings)])
        unknown = _unmet(things, found)
        verdict = worst([verdict_of(mixed), *(one.verdict for one in found)])
        if verdict == "compatible" and unknown:
            verdict = NOT_KNOWN
        return Checked(
            tuple(thing.id for thing in things),
            verdict,
            tuple(findings),
            tuple(distinct([*held, *(finding for one in found for finding in one.notes)])),
            tuple(distinct(finding for one in found for finding in one.suits)),
            tuple(unknown),
            next((one.uses for one in found if len(found) == 1), ()),
        )

    def either_way(self, things: Sequence[Thing]) -> Checked:
        """Check where no order of the coats was said: the best order counts, and the others are told."""
        found: dict[tuple[str, ...], Checked] = {}
        for order in _orders(things):
            found.setdefault(tuple(thing.id for thing in order), self.check(order))
        best = min(found.values(), key=lambda one: VERDICTS.index(one.verdict))
        others = {ids: one.verdict for ids, one in found.items() if one is not best}
        if not others:
            return best
        harsh = worst((best.verdict, *("needs" if v == "blocked" else v for v in others.values())))
        return replace(best, verdict=harsh, orders={best.items: best.verdict, **others})

    def _situation(self, situation: Situation) -> _Judged:
        """Give the things of one situation, used in every way."""
        hearing, approvals = self._hearings(situation)
        found = [_Way(layout, hearing.says(layout)) for layout in layouts(situation, self.engine.domains)]
        near = [way for way in found if not way.layout.apart]
        # What is refused as the first coat needs one below it that nobody named.
        outside = [way for way in found if way.layout.apart and not way.refused and all(n.misplaced for n in near)]
        possible = outside or [way for way in near if not way.refused] or near
        best = min(possible, key=_badness)
        ranks = {max((heard.rank for heard in way.heard), default=0) for way in possible}
        pairs = pairs_of(situation, best.layout)
        known = {pair: said for pair in pairs if (said := approvals.of(pair, best.layout))}
        return _Judged(
            situation,
            best,
            tuple(distinct([*best.findings, *_otherwise(best, possible), *(_misplaced(near) if outside else ())])),
            VERDICTS[
                max(max(ranks) if len(ranks) == 1 else max(min(r, _NEEDS) for r in ranks), _NEEDS if outside else 0)
            ],
            tuple(pairs),
            tuple(pair for pair in pairs if pair not in known and not bridged(pair, known)),
            tuple(finding for said in known.values() for finding in said),
            (*_told(sorted(possible, key=_badness)), *_no_uses([w for w in near if w not in possible], bool(outside))),
        )

    def _hearings(self, situation: Situation) -> tuple[Hearing, Approvals]:
        """Give the rules that can speak there; for things of the same kinds that stand in no slot they are the same."""
        kinds = frozenset(thing.kind for thing in situation.things)
        fixed = tuple(
            (thing.id, thing.of, thing.at_c)
            for thing in situation.things
            if thing.entry is None or thing.kind == "substrate"
        )
        beside = tuple(id(situation.scene.get(kind)) for kind in ("substrate", "aid", "substance"))
        key = (kinds, fixed, beside)
        if key not in self._heard:
            planner, others = grounders_of(self.engine)
            suits = [g for g in others if g.rule.verdict == "suits"]
            spoken = [*planner, *(g for g in others if g.rule.verdict != "suits")]
            domains = self.engine.domains
            asked = {e: situation.exposed_to(e) for e in situation.exposures} | {"": situation}
            approvals = Approvals({name: Hearing(suits, domains, here) for name, here in asked.items()})
            self._heard[key] = Hearing(spoken, domains, situation), approvals
        return self._heard[key]


@lru_cache(maxsize=8)
def grounders_of(engine: Engine) -> tuple[Sequence[Grounder], Sequence[Grounder]]:
    """Give the rules of chains, and those beside them, taken apart; what to ask of the gauge is said of a whole job."""
    return engine.grounders, [Grounder(rule) for rule in engine.knowledge.beside if not rule.of_gauge]


class _Way(NamedTuple):
    """One layout, and what was said of it."""

    layout: Layout
    heard: Sequence[Heard]

    @property
    def findings(self) -> list[Finding]:
        return distinct(heard.finding for heard in self.heard if heard.bears)

    @property
    def verdict(self) -> str:
        return VERDICTS[_badness(self)[0]]

    @property
    def refused(self) -> bool:
        """Whether one of the things can't be used so at all, whatever it goes with."""
        return any(heard.alone for heard in self.heard)

    @property
    def misplaced(self) -> bool:
        """Whether all that speaks against it is that one thing can't stand where it does."""
        return self.refused and not any(heard.rank > _NEEDS and not heard.alone for heard in self.heard)


def _badness(way: _Way) -> tuple[int, int]:
    """Tell how bad a way to use the things is, and in how many respects."""
    ranks = [heard.rank for heard in way.heard if heard.rank]
    return max(ranks, default=0), len(ranks)


class _Judged(NamedTuple):
    """What comes of one situation."""

    situation: Situation
    best: _Way
    findings: tuple[Finding, ...]
    verdict: str
    pairs: tuple[Pair, ...]
    open_pairs: tuple[Pair, ...]
    suits: tuple[Finding, ...]
    uses: tuple[Use, ...]

    @property
    def notes(self) -> list[Finding]:
        said = (heard.finding for heard in self.best.heard if not heard.bears)
        return [finding for finding in said if finding.rule.verdict != "prefer"]

    def named(self, party: Party) -> Thing:
        """Give the thing that a party is."""
        if isinstance(party, int):
            return self.best.layout.things[party]
        kind = "substrate" if party == PART else party
        return next((t for t in self.situation.things if party in (t.id, t.kind) or kind == t.kind), Thing(party))


def _otherwise(best: _Way, ways: Sequence[_Way]) -> Iterator[Finding]:
    """Tell what speaks against the things where they are used in other ways: which way it is isn't known."""
    said = {heard.finding.rule.id for heard in best.heard if heard.bears}
    for way in ways:
        cured = len(way.layout.use) == len(best.layout.use) and way.layout.things == best.layout.things
        unknown = ("cure.temperature_c",) if cured else ("use.way",)
        for heard in way.heard:
            if heard.rank and heard.finding.rule.id not in said:
                yield heard.finding._replace(known=False, unknown=unknown)


def _misplaced(near: Sequence[_Way]) -> Iterator[Finding]:
    """Tell why a coat is no first coat: that it is to be one wasn't said."""
    for way in near:
        yield from (h.finding._replace(known=False, unknown=("use.way",)) for h in way.heard if h.alone)


def _told(ways: Sequence[_Way]) -> Iterator[Use]:
    """Give the ways to use the things, where it matters which; the best first."""
    if len({frozenset(id(heard) for heard in way.heard if heard.rank) for way in ways}) > 1:
        for way in ways:
            yield Use(way.layout.use, way.verdict, tuple(way.findings))


def _no_uses(ways: Sequence[_Way], no_first: bool) -> Iterator[Use]:
    """Give the ways in which one of the things can't be used at all; one alone where it is that it is no first coat."""
    for way in ways[:1] if no_first else ways:
        words = (AS_FIRST,) if no_first else way.layout.use
        yield Use(words, "blocked", tuple(heard.finding for heard in way.heard if heard.alone), possible=False)


def _unmet(things: Sequence[Thing], found: Sequence[_Judged]) -> Iterator[Unknown] | list[Unknown]:
    """Give the pairs of which nothing is known, and every thing that meets none of the others."""
    unknown: dict[Unknown, None] = {}
    met: set[Thing] = set()
    for one in found:
        if one.best.layout.apart:
            met |= set(one.best.layout.things.values())
        for pair in one.pairs:
            met |= {one.named(pair.first), one.named(pair.second)}
        for pair in one.open_pairs:
            unknown[Unknown(one.named(pair.first).id, one.named(pair.second).id, pair.relation)] = None
    for place, thing in enumerate(things):
        if thing not in met and len(things) > 1:
            other = things[place - 1] if place else things[1]
            first, second = sorted((thing.id, other.id))
            unknown[Unknown(first, second, None, thing.kind == other.kind == "substrate")] = None
    return list(unknown)


def _orders(things: Sequence[Thing]) -> Iterator[list[Thing]]:
    """Give every order of the coats and of the abrasives among the things, the one in which they were named first."""
    for coats in permutations([t for t in things if t.kind == "coating"]):
        for abrasives in permutations([t for t in things if t.kind == "abrasive"]):
            left = {"coating": iter(coats), "abrasive": iter(abrasives)}
            yield [next(left[t.kind]) if t.kind in left else t for t in things]
