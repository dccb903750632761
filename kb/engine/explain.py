"""What the rules say of a chain, and why an item is in none."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from kb.clauses import Facts
from kb.engine.domain import Option
from kb.engine.frontier import positions_of
from kb.engine.rank import MS_PER_MINUTE
from kb.engine.screen import CHAIN_ROLE, Join, Screened
from kb.engine.slots import INDEX, KIND_OF_SLOT, SLOT_OF_STAGE, Binding, bindings
from kb.findings import Finding, judge
from kb.knowledge import Entry
from kb.rules import SLOT_ROLES, Rule

Scene = Mapping[str, Facts | None]


def scene_with(scene: Scene, binding: Binding, picks: Mapping[int, Option]) -> dict[str, Facts | None]:
    """`scene` with each bound role standing for the option picked in its slot; a slot without a pick is left out."""
    bound = {role: picks[slot].facts(role) for role, slot in binding.slots.items() if slot in picks}
    return {**scene, **bound}


def _read_roles(rule: Rule) -> frozenset[str]:
    """Slot roles that a rule stands on: those that it reads and those that it is about."""
    return frozenset(r for r in (*rule.about, *(r for c in rule.when for r in c.roles())) if r in SLOT_ROLES)


def _need_roles(rule: Rule) -> frozenset[str]:
    return frozenset(r for need in rule.needs for r in need.roles() if r in SLOT_ROLES)


def chain_findings(job: Screened, positions: Sequence[int]) -> list[Finding]:
    """Everything that the rules say of a chain, given by the position of its option in each slot; in order of rules.

    A rule speaks once for each way in which it stands on the chain: twice of a paper that is used dry and wet.
    """
    picks = {
        slot: domain.options[position]
        for slot, (domain, position) in enumerate(zip(job.domains, positions, strict=True))
    }
    found: list[Finding] = []
    for rule, pieces, _ in job.said:
        if rule.omits and positions[INDEX[SLOT_OF_STAGE[rule.omits]]]:
            continue
        for piece in pieces:
            if all(mask >> positions[slot] & 1 for slot, mask in piece.speaks.items()):
                here = scene_with(job.scene, piece.binding, picks)
                supplied = [{**here, **scene_with(job.scene, b, picks)} for b in bindings(_need_roles(rule))]
                finding = judge(rule, here, supplied if rule.needs else ())
                if finding is not None:
                    found.append(finding)
    return found


def exclusions(job: Screened, fastest: Sequence[Mapping[int, int]]) -> list[tuple[Entry, list[Finding]]]:
    """Every item that no chain for this job can use, in catalog order, each with at least one finding.

    `fastest[slot]` holds the options that some allowed chain uses, by the milliseconds of the fastest such chain.
    """
    limit = job.problem.limit_ms
    reasons: dict[str, dict[tuple[object, ...], Finding]] = {}
    free: set[str] = set()
    for slot, domain in enumerate(job.domains):
        ready = {position: ms for ms, members in fastest[slot].items() for position in positions_of(members)}
        for position, option in enumerate(domain.options):
            if option.entry is None:
                continue
            ms = ready.get(position)
            if ms is not None and (limit is None or ms <= limit):
                free.add(option.entry.id)
                continue
            here = reasons.setdefault(option.entry.id, {})
            for finding in _why_not(job, slot, position, None if ms is None else ms / MS_PER_MINUTE):
                here.setdefault(finding.key(), finding)
    kinds = set(KIND_OF_SLOT.values())
    return [
        (entry, list(reasons[entry.id].values()))
        for entry in job.knowledge.entries.values()
        if entry.kind in kinds and entry.id not in free
    ]


def _why_not(job: Screened, slot: int, position: int, minutes: float | None) -> Iterator[Finding]:
    """`minutes` is what the fastest chain with the option takes, where the time limit alone speaks against it."""
    bit = 1 << position
    option = job.domains[slot].options[position]
    closing = [rule for rule, mask in job.closed[slot] if mask & bit]
    if closing:
        for rule in dict.fromkeys(closing):
            yield from _closing(job, rule, slot, option)
        return
    # Where another slot has nothing left at all, that is why: no pair speaks against this option.
    pairs = minutes is None and 0 not in job.left
    joins = [j for j in job.joins if pairs and j.forbids and j.rule is not None and j.sets.get(slot, 0) & bit]
    spoken = False
    for join in _decisive(job, slot, joins) or joins:
        finding = _joint(job, join, slot, option)
        if finding is not None:
            spoken = True
            yield finding
    if not spoken:
        yield from _as_chain(job, option, minutes)


def _closing(job: Screened, rule: Rule, slot: int, option: Option) -> Iterator[Finding]:
    """What a rule that shuts out `option` in `slot` says, with nothing else picked."""
    for binding in bindings(_read_roles(rule)):
        if slot in binding.slots.values():
            here = scene_with(job.scene, binding, {slot: option})
            supplied = [{**here, **scene_with(job.scene, b, {slot: option})} for b in bindings(_need_roles(rule))]
            finding = judge(rule, here, supplied if rule.needs else ())
            if finding is not None:
                yield finding
                return
    finding = judge(rule, job.scene)
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
    for binding in bindings(_read_roles(join.rule)):
        here = scene_with(job.scene, binding, picks)
        supplied = [{**here, **scene_with(job.scene, b, picks)} for b in bindings(_need_roles(join.rule))]
        finding = judge(join.rule, here, supplied if join.rule.needs else ())
        if finding is not None:
            return finding
    return None


def _as_chain(job: Screened, option: Option, minutes: float | None) -> Iterator[Finding]:
    """What the rules about whole chains say where nothing speaks against the item itself."""
    assert option.entry is not None
    chain: dict[str, object] = {"id": option.entry.id, "name": option.entry.name, "possible": minutes is not None}
    if minutes is not None:
        chain["ready_after_min"] = minutes + job.everywhere[1]
    for rule in job.rules:
        if CHAIN_ROLE in rule.roles():
            finding = judge(rule, {**job.scene, CHAIN_ROLE: chain})
            if finding is not None and finding.known:
                yield finding
