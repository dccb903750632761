"""What the rules say of a chain, and why an item is in none."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache

from kb.clauses import Facts
from kb.engine.domain import Option
from kb.engine.frontier import positions_of, union
from kb.engine.rank import MS_PER_MINUTE
from kb.engine.screen import CHAIN_ROLE, Join, Screened
from kb.engine.slots import INDEX, SLOT_OF_STAGE, Binding, bindings
from kb.findings import Finding, judge
from kb.knowledge import Entry
from kb.rules import SLOT_ROLES, Rule

Scene = Mapping[str, Facts | None]


def scene_with(scene: Scene, binding: Binding, picks: Mapping[int, Option]) -> dict[str, Facts | None]:
    """`scene` with each bound role standing for the option picked in its slot; a slot without a pick is left out."""
    bound = {role: picks[slot].facts(role) for role, slot in binding.slots.items() if slot in picks}
    return {**scene, **bound}


@lru_cache(maxsize=4096)
def _ways(rule: Rule) -> tuple[Binding, ...]:
    """Every way in which a rule stands on slots: with the roles that it reads and those that it is about."""
    return bindings(frozenset(r for r in (*rule.about, *(r for c in rule.when for r in c.roles())) if r in SLOT_ROLES))


@lru_cache(maxsize=4096)
def _supplies(rule: Rule) -> tuple[Binding, ...]:
    """Every way in which what a rule needs may be supplied."""
    return bindings(frozenset(r for need in rule.needs for r in need.roles() if r in SLOT_ROLES)) if rule.needs else ()


def _says(job: Screened, rule: Rule, binding: Binding, picks: Mapping[int, Option]) -> Finding | None:
    """What `rule`, standing so, says of `picks`."""
    here = scene_with(job.scene, binding, picks)
    return judge(rule, here, [{**here, **scene_with(job.scene, b, picks)} for b in _supplies(rule)])


def chain_findings(job: Screened, positions: Sequence[int]) -> list[Finding]:
    """Everything that the rules say of a chain, given by the position of its option in each slot; in order of rules.

    A rule speaks once for each way in which it stands on the chain: twice of a paper that is used dry and wet.
    """
    picks = {slot: job.domains[slot].options[position] for slot, position in enumerate(positions)}
    found: list[Finding] = []
    for rule, pieces, _ in job.said:
        if rule.omits and positions[INDEX[SLOT_OF_STAGE[rule.omits]]]:
            continue
        for piece in pieces:
            if all(mask >> positions[slot] & 1 for slot, mask in piece.speaks.items()):
                finding = _says(job, rule, piece.binding, picks)
                if finding is not None:
                    found.append(finding)
    return found


def exclusions(job: Screened, fastest: Sequence[Mapping[int, int]]) -> list[tuple[Entry, list[Finding]]]:
    """Every item that no chain for this job can use, in catalog order, each with at least one finding.

    `fastest[slot]` holds the options that some allowed chain uses, by the milliseconds of the fastest such chain.
    """
    limit = job.problem.limit_ms
    free: set[str] = set()
    for domain, by_time in zip(job.domains, fastest, strict=True):
        usable = union(members for ms, members in by_time.items() if limit is None or ms <= limit)
        free |= {domain.options[position].id for position in positions_of(usable)}
    reasons: dict[str, dict[tuple[object, ...], Finding]] = {}
    for slot, (domain, by_time) in enumerate(zip(job.domains, fastest, strict=True)):
        late = {position: ms for ms, members in by_time.items() for position in positions_of(members)}
        for position, option in enumerate(domain.options):
            if option.entry is None or option.entry.id in free:
                continue
            here = reasons.setdefault(option.entry.id, {})
            for finding in _why_not(job, slot, position, late.get(position), {f.rule for f in here.values()}):
                here.setdefault(finding.key(), finding)
    return [
        (entry, list(reasons[entry.id].values())) for entry in job.knowledge.entries.values() if entry.id in reasons
    ]


def _why_not(job: Screened, slot: int, position: int, late_ms: int | None, spoken: set[Rule]) -> Iterator[Finding]:
    """What keeps an option out of every chain; of the rules that close it those that haven't `spoken` of the item.

    `late_ms` is what the fastest chain with the option takes, where the time limit alone speaks against it.
    """
    bit = 1 << position
    option = job.domains[slot].options[position]
    closing = [rule for rule, mask in job.closed[slot] if mask & bit]
    if closing:
        for rule in dict.fromkeys(closing):
            if rule not in spoken:
                yield from _closing(job, rule, slot, option)
        return
    # Where another slot has nothing left at all, that is why: no pair speaks against this option.
    pairs = late_ms is None and 0 not in job.left
    joins = [j for j in job.joins if pairs and j.forbids and j.rule is not None and j.sets.get(slot, 0) & bit]
    together = [_joint(job, join, slot, option) for join in _decisive(job, slot, joins) or joins]
    found = [finding for finding in together if finding is not None]
    yield from found or _as_chain(job, option, late_ms)


def _closing(job: Screened, rule: Rule, slot: int, option: Option) -> Iterator[Finding]:
    """What a rule that shuts out `option` in `slot` says, with nothing else picked."""
    ways = (_says(job, rule, binding, {slot: option}) for binding in _ways(rule) if slot in binding.slots.values())
    finding = next((found for found in ways if found is not None), None) or judge(rule, job.scene)
    if finding is not None:
        yield finding


def _decisive(job: Screened, slot: int, joins: Sequence[Join]) -> list[Join]:
    """Those of `joins` that together shut out every option left in one other slot."""
    covered: dict[int, int] = {}
    for join in joins:
        others = set(join.sets) - {slot}
        if len(others) == 1:
            (other,) = others
            covered[other] = covered.get(other, 0) | join.sets[other]
    closed = {other for other, mask in covered.items() if mask & job.left[other] == job.left[other]}
    return [j for j in joins if set(j.sets) - {slot} <= closed and len(j.sets) == 2]


def _joint(job: Screened, join: Join, slot: int, option: Option) -> Finding | None:
    """What the rule of `join` says of `option` beside the first option that it shuts out with it."""
    picks = {slot: option}
    for other, mask in join.sets.items():
        if other != slot:
            picks[other] = job.domains[other].options[(mask & -mask).bit_length() - 1]
    assert join.rule is not None
    said = (_says(job, join.rule, binding, picks) for binding in _ways(join.rule))
    return next((finding for finding in said if finding is not None), None)


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
