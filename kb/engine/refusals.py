"""Why an item is in no chain.

An item is out because a rule alone closes it; or because what it can't stand beside is all that other rules have
left in another stage: then those rules are named too. So with only the rules that are named, the item is out
already. What only a search finds out is said as such, by the rules about whole chains.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

from kb.engine.chain import finding_of, standings
from kb.engine.domain import EMPTY, Option
from kb.engine.grounding import Sets
from kb.engine.rank import MS_PER_MINUTE
from kb.engine.screened import Screened
from kb.engine.search.masks import positions_of, union
from kb.engine.settle import RuleConstraint
from kb.engine.slots import INDEX, NAMES
from kb.knowledge import Entry
from kb.rules.findings import Finding, judge
from kb.rules.roles import ALWAYS_FILLED, CHAIN_ROLE, SLOT_OF_OMITS
from kb.rules.rule import Rule


def refusals(job: Screened, fastest: Sequence[Mapping[int, int]]) -> list[tuple[Entry, list[Finding]]]:
    """List every item that no chain for this job can use, in catalog order, each with at least one finding.

    `fastest[slot]` holds the options that some allowed chain uses, by the milliseconds of the fastest such chain.
    """
    limit = job.problem.limit_ms
    free: set[str] = set()
    for domain, by_time in zip(job.domains, fastest, strict=True):
        usable = union(members for ms, members in by_time.items() if limit is None or ms <= limit)
        free |= {domain.options[position].id for position in positions_of(usable)}
    closers = _Closers(job)
    reasons: dict[str, dict[tuple[object, ...], Finding]] = {}
    for slot, (domain, by_time) in enumerate(zip(job.domains, fastest, strict=True)):
        late = {position: ms for ms, members in by_time.items() for position in positions_of(members)}
        for position, option in enumerate(domain.options):
            if option.entry is None or option.entry.id in free:
                continue
            here = reasons.setdefault(option.entry.id, {})
            for finding in closers.why_not(slot, position, late.get(position), {f.rule for f in here.values()}):
                here.setdefault(finding.key(), finding)
    return [
        (entry, list(reasons[entry.id].values())) for entry in job.knowledge.entries.values() if entry.id in reasons
    ]


class _Closing(NamedTuple):
    """A rule that forbids a combination, and which options of one of its slots it closes so."""

    constraint: RuleConstraint
    mask: int


class _Closers:
    """What closes the slots of a job: rule by rule alone, and together."""

    def __init__(self, job: Screened) -> None:
        self.job = job
        #: For each slot that a rule lets stay empty: what must stand in other slots for that.
        self.permits = _permits(job)
        required = {*ALWAYS_FILLED, *SLOT_OF_OMITS.values()} - {NAMES[slot] for slot in self.permits}
        #: What may stand in each slot before any rule speaks.
        self.open = [
            domain.filled if name in required else domain.all for name, domain in zip(INDEX, job.domains, strict=True)
        ]
        #: For each slot, the rules that close options of it whatever stands elsewhere.
        self.alone: list[list[_Closing]] = [[] for _ in job.domains]
        #: What is forbidden only together.
        self.joining: list[RuleConstraint] = []
        for constraint in (c for grounded in job.grounded for c in grounded.constraints if c.forbids):
            self._sort(constraint)

    def _sort(self, constraint: RuleConstraint) -> None:
        """Sort by how many slots the rule leaves a choice in: none, and it closes everything."""
        sets = {slot: mask & self.open[slot] for slot, mask in constraint.sets.items()}
        if 0 in sets.values():
            return
        narrow = [slot for slot, mask in sets.items() if mask != self.open[slot]]
        if len(narrow) > 1:
            self.joining.append(constraint)
        for slot in narrow if len(narrow) == 1 else () if narrow else range(len(self.open)):
            self.alone[slot].append(_Closing(constraint, sets.get(slot, self.open[slot])))

    def why_not(self, slot: int, position: int, late_ms: int | None, spoken: set[Rule]) -> Iterator[Finding]:
        """Tell what keeps an option out of every chain; of the rules that close it alone, those that haven't `spoken`.

        `late_ms` is what the fastest chain with the option takes, where the time limit alone speaks against it.
        """
        bit = 1 << position
        option = self.job.domains[slot].options[position]
        alone = {closing.constraint.rule: closing.constraint for closing in self.alone[slot] if closing.mask & bit}
        if alone:
            for rule, constraint in alone.items():
                if rule not in spoken:
                    yield from self._about(constraint, {slot: option})
            return
        searched = late_ms is not None or 0 in self.job.remaining
        together = [] if searched else list(self._together(slot, bit))
        yield from together or _as_chain(self.job, option, late_ms)

    def _about(self, constraint: RuleConstraint, picks: dict[int, Option]) -> Iterator[Finding]:
        """Tell what the rule says of `picks`, beside what is still left of what it forbids with them."""
        assert constraint.rule is not None
        for other, mask in constraint.sets.items():
            if other not in picks:
                here = mask & self.job.remaining[other] or mask & self.open[other] or mask
                picks = {**picks, other: self._first(other, here)}
        for binding in standings(constraint.rule):
            finding = finding_of(self.job, constraint.rule, binding, picks)
            if finding is not None and finding.closes:
                yield finding
                return

    def _together(self, slot: int, bit: int) -> Iterator[Finding]:
        """Tell which rules shut the option out from all that is left in another slot, and which left no more there."""
        remaining = self.job.remaining
        covering: dict[int, list[_Closing]] = {}
        for constraint in self.joining:
            if constraint.sets.get(slot, 0) & bit:
                others = [s for s, mask in constraint.sets.items() if s != slot and remaining[s] & ~mask]
                where = others or [s for s in constraint.sets if s != slot]
                if len(where) == 1 or not others:
                    covering.setdefault(where[0], []).append(_Closing(constraint, constraint.sets[where[0]]))
        option = self._first(slot, bit)
        for other, closings in covering.items():
            # The option may itself be what lets the other slot stay empty.
            empty = EMPTY if any(permit.get(slot, 0) & bit for permit in self.permits.get(other, ())) else 0
            if (remaining[other] | empty) & ~union(closing.mask for closing in closings):
                continue
            chosen = fewest(closings, remaining[other])
            for closing in chosen:
                yield from self._about(closing.constraint, {slot: option})
            gone = self.open[other] & ~union(closing.mask for closing in chosen)
            for closing in fewest(self.alone[other], gone):
                yield from self._about(closing.constraint, {other: self._first(other, closing.mask & gone)})
            if gone & EMPTY:
                yield from self._filled(other)
            return

    def _filled(self, slot: int) -> Iterator[Finding]:
        """Tell why a slot that a rule would let stay empty may not: what shuts out what that takes elsewhere."""
        for permit in self.permits.get(slot, ()):
            for other, mask in permit.items():
                if not mask & self.job.remaining[other]:
                    wanted = mask & self.open[other]
                    for closing in fewest(self.alone[other], wanted):
                        yield from self._about(closing.constraint, {other: self._first(other, closing.mask & wanted)})
                    break

    def _first(self, slot: int, mask: int) -> Option:
        return self.job.domains[slot].options[(mask & -mask).bit_length() - 1]


def _permits(job: Screened) -> dict[int, list[Sets]]:
    """Collect, for each slot that rules let stay empty, what each of them asks of other slots."""
    found: dict[int, list[Sets]] = {}
    for rule, where, _ in job.grounded:
        if rule.omits and where:
            empty = INDEX[SLOT_OF_OMITS[rule.omits]]
            asked = [{s: mask for s, mask in (w.certain or {}).items() if s != empty} for w in where]
            found.setdefault(empty, []).extend(asked)
    return found


def fewest(closings: Iterable[_Closing], wanted: int) -> list[_Closing]:
    """Choose few of `closings` that together hold all of `wanted` that any of them holds: greedily, most first."""
    chosen: list[_Closing] = []
    remaining = list(closings)
    while remaining and wanted:
        best = max(remaining, key=lambda closing: (closing.mask & wanted).bit_count())
        if not best.mask & wanted:
            break
        chosen.append(best)
        wanted &= ~best.mask
    return chosen


def _as_chain(job: Screened, option: Option, late_ms: int | None) -> Iterator[Finding]:
    """Tell what the rules about whole chains say where nothing speaks against the item itself."""
    assert option.entry is not None
    chain: dict[str, object] = {"id": option.entry.id, "name": option.entry.name, "possible": late_ms is not None}
    if late_ms is not None:
        chain["critical_path_min"] = late_ms / MS_PER_MINUTE + job.constant[1]
    for rule in job.of_chains:
        finding = judge(rule, {**job.scene, CHAIN_ROLE: chain})
        if finding is not None and finding.known:
            yield finding
