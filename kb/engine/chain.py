"""A chain as people read it: what stands in each slot, what the rules say of it, and what it costs by criterion."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import lru_cache
from typing import NamedTuple

from kb.engine.domain import Option
from kb.engine.rank import CRITERIA, FREE, MS_PER_MINUTE, Price, Ranking
from kb.engine.screened import Screened
from kb.engine.search.problem import Label
from kb.engine.slots import COATS, INDEX, Binding, bindings
from kb.knowledge import Entry
from kb.rules.clauses import Facts, Scene
from kb.rules.findings import Finding, distinct, judge
from kb.rules.roles import SLOT_OF_OMITS, SLOT_ROLES, SLOTS
from kb.rules.rule import Rule

#: What criteria are counted in, where it isn't findings.
UNITS = {
    "time to ready": "min",
    "temperature headroom": "degC",
    "steps": "steps",
    "hazards": "hazards",
    "needless heat": "degC",
}


class Score(NamedTuple):
    """One criterion of a chain's cost: its value in its unit, and the points that it adds."""

    criterion: str
    value: float
    unit: str
    points: int


class Chain(NamedTuple):
    """One way to bond the gauge: what stands in each slot, what the rules say of it, and what it costs."""

    rank: int
    picks: tuple[Option, ...]
    findings: tuple[Finding, ...]
    score: tuple[Score, ...]
    cost: int
    critical_path_min: float

    def pick(self, slot: str) -> Option:
        """Give what stands in a slot."""
        return self.picks[INDEX[slot]]

    @property
    def key(self) -> tuple[tuple[str, str | None], ...]:
        """What makes it this chain: the item in each slot, with its cure."""
        return tuple((option.id, option.cure["id"] if option.cure else None) for option in self.picks)

    @property
    def named(self) -> dict[str, str]:
        """What makes two chains the same in any job: the item in each slot that is filled, and the cure."""
        found = {slot: option.entry.id for slot, option in zip(SLOTS, self.picks, strict=True) if option.entry}
        return {**found, "cure": str(self.cure["id"])} if self.cure else found

    @property
    def coatings(self) -> tuple[Entry, ...]:
        """The coats, innermost first."""
        return tuple(e for slot in COATS if (e := self.picks[slot].entry) is not None)

    @property
    def cure(self) -> Facts:
        return self.pick("adhesive").cure or {}


def findings_of(job: Screened, positions: Sequence[int]) -> list[Finding]:
    """Collect what is said of a chain, given by the position of its option in each slot; in order of rules.

    A rule speaks once for each way in which it stands on the chain: twice of a paper that is used dry and wet. Chains
    hold mostly the same: what a rule says of the same picks is worked out once for a job.
    """
    picks = {slot: job.domains[slot].options[position] for slot, position in enumerate(positions)}
    findings: list[Finding] = []
    for rule, conjunctions, _ in job.grounded:
        if rule.omits and positions[INDEX[SLOT_OF_OMITS[rule.omits]]]:
            continue
        for binding, _, _, speaks in conjunctions:
            if _lies_in(positions, speaks):
                slots = {*binding.slots.values(), *(s for b in _supplies(rule) for s in b.slots.values())}
                key = (rule.id, id(binding), *(positions[slot] for slot in sorted(slots)))
                if key not in job.said:
                    job.said[key] = finding_of(job, rule, binding, picks)
                finding = job.said[key]
                if finding is not None:
                    findings.append(finding)
    return findings


def chain_of(job: Screened, rank: int, label: Label) -> Chain:
    """Make a chain of what the search found."""
    picks = tuple(domain.options[p] for domain, p in zip(job.domains, label.picks, strict=True))
    findings = tuple(findings_of(job, label.picks))
    points, minutes = job.constant
    ready = label.ms / MS_PER_MINUTE + minutes
    return Chain(rank, picks, findings, _score(_prices(job, label.picks, picks, findings)), label.cost + points, ready)


def cautions_of(chain: Chain, ranking: Ranking, least: str) -> list[Finding]:
    """List what a chain is cautioned of at the level `least` or a worse one, the worst first."""
    levels = ranking.levels_of
    told = [finding for finding in distinct(chain.findings) if finding.known and finding.verdict == "caution"]
    rows = [(levels[ranking.of_rule(finding.rule, known=True).level], finding) for finding in told]
    return [finding for points, finding in sorted(rows, key=lambda row: -row[0]) if points >= levels[least]]


def prices_of(screened: Screened, chain: Chain) -> Iterator[Price]:
    """Price a chain of a job piece by piece: its points add up to the chain's cost."""
    places = [domain.options.index(option) for domain, option in zip(screened.domains, chain.picks, strict=True)]
    return _prices(screened, places, chain.picks, chain.findings)


def times_of(screened: Screened, chain: Chain) -> dict[str, float]:
    """Count how often each level is in a chain's cost; what a preference takes off counts below zero."""
    times: dict[str, float] = {}
    for price in prices_of(screened, chain):
        times[price.level] = times.get(price.level, 0.0) + price.times
    return times


def _prices(
    screened: Screened, positions: Sequence[int], picks: tuple[Option, ...], findings: tuple[Finding, ...]
) -> Iterator[Price]:
    """Price what stands in the chain, and not what the search found."""
    ranking = screened.ranking
    service = screened.scene["service"] or {}
    for slot, option in zip(SLOTS, picks, strict=True):
        yield from ranking.of_option(slot, option, service)
    for finding in findings:
        price = ranking.of_rule(finding.rule, finding.known)
        need = finding.known and finding.rule.verdict == "need"
        # A need that something in the chain meets costs what meets it, and no more.
        yield price._replace(level=FREE, times=0.0, points=0) if need and finding.rule.needs else price
        if need:
            yield ranking.of_minutes(finding.wait_min + finding.rule.delay_min, service)
    for step in (constraint for each in screened.steps for constraint in each.constraints):
        if _lies_in(positions, step.sets):
            yield ranking.of_minutes(step.minutes, service)


def _score(prices: Iterable[Price]) -> tuple[Score, ...]:
    """Tell a chain's cost by criterion."""
    values = dict.fromkeys(CRITERIA, 0.0)
    points = dict.fromkeys(CRITERIA, 0)
    margins: list[float] = []
    for price in prices:
        points[price.criterion] += price.points
        if price.criterion == "temperature headroom":
            margins.append(price.value)
        else:
            values[price.criterion] += price.value
    values["temperature headroom"] = min(margins, default=0.0)
    return tuple(Score(c, values[c], UNITS.get(c, "findings"), points[c]) for c in CRITERIA)


def _lies_in(positions: Sequence[int], sets: Mapping[int, int]) -> bool:
    """Tell whether each slot's position lies in its set."""
    for slot, mask in sets.items():  # noqa: SIM110 as `all` of a generator it takes twice as long, for 700 rules a chain
        if not mask >> positions[slot] & 1:
            return False
    return True


def scene_with(scene: Scene, binding: Binding, picks: Mapping[int, Option]) -> dict[str, Facts | None]:
    """Let each bound role stand for the option picked in its slot; a slot without a pick is left out."""
    bound = {role: picks[slot].facts(role) for role, slot in binding.slots.items() if slot in picks}
    return {**scene, **bound}


@lru_cache(maxsize=4096)
def standings(rule: Rule) -> tuple[Binding, ...]:
    """List the ways in which a rule stands on slots: with the roles that it reads and those that it is about."""
    return bindings(frozenset(r for r in (*rule.about, *(r for c in rule.when for r in c.roles())) if r in SLOT_ROLES))


@lru_cache(maxsize=4096)
def _supplies(rule: Rule) -> tuple[Binding, ...]:
    """List the ways in which what a rule needs may be supplied."""
    return bindings(frozenset(r for need in rule.needs for r in need.roles() if r in SLOT_ROLES)) if rule.needs else ()


def finding_of(job: Screened, rule: Rule, binding: Binding, picks: Mapping[int, Option]) -> Finding | None:
    """Tell what `rule`, standing so, says of `picks`."""
    here = scene_with(job.scene, binding, picks)
    return judge(rule, here, [{**here, **scene_with(job.scene, b, picks)} for b in _supplies(rule)])
