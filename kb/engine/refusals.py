"""What the rules say of a chain, and why an item is in none.

An item is out because a rule alone closes it; or because what it can't stand beside is all that other rules have
left in another stage: then those rules are named too. So with only the rules that are named, the item is out
already. What only a search finds out is said as such, by the rules about whole chains.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

from kb.engine.chain import finding_of, standings
from kb.engine.domain import Option
from kb.engine.rank import MS_PER_MINUTE
from kb.engine.screen import Join, Screened
from kb.engine.search.layers import positions_of, union
from kb.engine.slots import INDEX
from kb.knowledge import Entry
from kb.rules.clauses import Facts
from kb.rules.findings import Finding, judge
from kb.rules.roles import ALWAYS_FILLED, CHAIN_ROLE, SLOT_OF_STAGE
from kb.rules.rule import Rule

Scene = Mapping[str, Facts | None]


def exclusions(job: Screened, fastest: Sequence[Mapping[int, int]]) -> list[tuple[Entry, list[Finding]]]:
    """Every item that no chain for this job can use, in catalog order, each with at least one finding.

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

    join: Join
    mask: int


class _Closers:
    """What closes the slots of a job: rule by rule alone, and together."""

    def __init__(self, job: Screened) -> None:
        self.job = job
        permitted = {SLOT_OF_STAGE[rule.omits] for rule, pieces, _ in job.said if rule.omits and pieces}
        required = {*ALWAYS_FILLED, *SLOT_OF_STAGE.values()} - permitted
        #: What may stand in each slot before any rule speaks.
        self.open = [
            domain.filled if name in required else domain.all for name, domain in zip(INDEX, job.domains, strict=True)
        ]
        #: For each slot, the rules that close options of it whatever stands elsewhere.
        self.alone: list[list[_Closing]] = [[] for _ in job.domains]
        #: What is forbidden only together.
        self.pairs: list[Join] = []
        for join in (join for said in job.said for join in said.joins if join.forbids):
            self._sort(join)

    def _sort(self, join: Join) -> None:
        """By how many slots the rule leaves a choice in: none, and it closes everything."""
        sets = {slot: mask & self.open[slot] for slot, mask in join.sets.items()}
        if 0 in sets.values():
            return
        narrow = [slot for slot, mask in sets.items() if mask != self.open[slot]]
        if len(narrow) > 1:
            self.pairs.append(join)
        for slot in narrow if len(narrow) == 1 else () if narrow else range(len(self.open)):
            self.alone[slot].append(_Closing(join, sets.get(slot, self.open[slot])))

    def why_not(self, slot: int, position: int, late_ms: int | None, spoken: set[Rule]) -> Iterator[Finding]:
        """What keeps an option out of every chain; of the rules that close it alone, those that haven't `spoken`.

        `late_ms` is what the fastest chain with the option takes, where the time limit alone speaks against it.
        """
        bit = 1 << position
        option = self.job.domains[slot].options[position]
        alone = {closing.join.rule: closing.join for closing in self.alone[slot] if closing.mask & bit}
        if alone:
            for rule, join in alone.items():
                if rule not in spoken:
                    yield from self._about(join, {slot: option})
            return
        together = [] if late_ms is not None or 0 in self.job.left else list(self._together(slot, bit))
        yield from together or _as_chain(self.job, option, late_ms)

    def _about(self, join: Join, picks: dict[int, Option]) -> Iterator[Finding]:
        """What the rule of `join` says of `picks`, beside what is still left of what it forbids with them."""
        rule = join.rule
        assert rule is not None
        for other, mask in join.sets.items():
            if other not in picks:
                here = mask & self.job.left[other] or mask & self.open[other] or mask
                picks = {**picks, other: self._first(other, here)}
        said = (finding_of(self.job, rule, binding, picks) for binding in standings(rule))
        finding = next((found for found in said if found is not None and found.closes), None)
        if finding is not None:
            yield finding

    def _together(self, slot: int, bit: int) -> Iterator[Finding]:
        """The rules that shut the option out from all that is left in another slot, and those that left no more."""
        left = self.job.left
        covering: dict[int, list[_Closing]] = {}
        for join in self.pairs:
            if join.sets.get(slot, 0) & bit:
                others = [s for s, mask in join.sets.items() if s != slot and left[s] & ~mask]
                where = others or [s for s in join.sets if s != slot]
                if len(where) == 1 or not others:
                    covering.setdefault(where[0], []).append(_Closing(join, join.sets[where[0]]))
        option = self._first(slot, bit)
        for other, closings in covering.items():
            if left[other] & ~union(c.mask for c in closings):
                continue
            chosen = _fewest(closings, left[other])
            for closing in chosen:
                yield from self._about(closing.join, {slot: option})
            gone = self.open[other] & ~union(c.mask for c in chosen)
            for closing in _fewest(self.alone[other], gone):
                yield from self._about(closing.join, {other: self._first(other, closing.mask & gone)})
            return

    def _first(self, slot: int, mask: int) -> Option:
        return self.job.domains[slot].options[(mask & -mask).bit_length() - 1]


def _fewest(closings: Iterable[_Closing], wanted: int) -> list[_Closing]:
    """Some of `closings` that together hold all of `wanted` that any of them holds: greedily, most first."""
    found: list[_Closing] = []
    remaining = list(closings)
    while remaining and wanted:
        best = max(remaining, key=lambda c: (c.mask & wanted).bit_count())
        if not best.mask & wanted:
            break
        found.append(best)
        wanted &= ~best.mask
    return found


def _as_chain(job: Screened, option: Option, late_ms: int | None) -> Iterator[Finding]:
    """What the rules about whole chains say where nothing speaks against the item itself."""
    assert option.entry is not None
    chain: dict[str, object] = {"id": option.entry.id, "name": option.entry.name, "possible": late_ms is not None}
    if late_ms is not None:
        chain["ready_after_min"] = late_ms / MS_PER_MINUTE + job.everywhere[1]
    for rule in job.of_chains:
        finding = judge(rule, {**job.scene, CHAIN_ROLE: chain})
        if finding is not None and finding.known:
            yield finding
