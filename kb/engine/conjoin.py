"""One rule, for one job, as conjunctions over slots.

What the job and the substrate already decide is decided here; what is left of a rule is, for each way its
roles can stand on slots, a set of options per slot for which it holds (`sure`), and one for which it
holds or can't be told (`perhaps`). A need holds against a chain where its conditions are met and nothing supplies it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product

from kb.clauses import Condition, Facts, Scene, all_of
from kb.engine.domain import EMPTY, Domain, facts_of
from kb.engine.slots import SLOTS, Binding, bindings
from kb.rules import SLOT_ROLES, Rule

Sets = dict[int, int]


@dataclass(frozen=True, slots=True)
class Piece:
    """Where a rule holds for certain (None: nowhere) and where it may hold, as option sets by slot."""

    binding: Binding
    sure: Sets | None
    perhaps: Sets


def pieces(rule: Rule, scene: Scene, domains: Sequence[Domain]) -> list[Piece]:
    """`rule` as pieces; none where the job alone silences it.

    >>> from kb.rules import Rule
    >>> from kb.clauses import Clause
    >>> rule = Rule("r", "", "block", ("part",), "", "", "", "memory", (), (Clause("part.populated", "is", True),))
    >>> pieces(rule, {"part": {"populated": False}}, ())
    []
    """
    fixed = [c for c in rule.when if not c.roles() & SLOT_ROLES.keys()]
    decided = all_of(c.truth(scene) for c in fixed)
    if decided is False:
        return []
    open_conditions = [c for c in rule.when if c.roles() & SLOT_ROLES.keys()]
    unmet = _unmet(rule, scene, domains)
    if unmet is None:
        return []
    supplied_known, unmet_sure, unmet_perhaps = unmet
    roles = frozenset(r for r in (*rule.about, *(r for c in rule.when for r in c.roles())) if r in SLOT_ROLES)
    found: list[Piece] = []
    for binding in bindings(roles):
        for sure, perhaps in _bound(open_conditions, binding, scene, domains):
            certain = decided is True and supplied_known
            sure_all = _both(sure, unmet_sure) if certain else None
            perhaps_all = _both(perhaps, unmet_perhaps)
            if perhaps_all is not None:
                found.append(Piece(binding, sure_all, perhaps_all))
    return found


def _both(one: Sets, other: Sets) -> Sets | None:
    """The sets that lie in both; None where a slot has nothing left."""
    joined = dict(one)
    for slot, mask in other.items():
        joined[slot] = joined.get(slot, -1) & mask
    return None if 0 in joined.values() else joined


def _unmet(rule: Rule, scene: Scene, domains: Sequence[Domain]) -> tuple[bool, Sets, Sets] | None:
    """Where the need is not supplied: (known, for certain, perhaps). None where the job itself supplies it.

    Several coats may supply a need: it is unmet where each of them fails it.
    """
    if not rule.needs:
        return True, {}, {}
    roles = frozenset(role for need in rule.needs for role in need.roles() if role in SLOT_ROLES)
    if not roles:
        supplied = all_of(need.truth(scene) for need in rule.needs)
        return None if supplied is True else (supplied is False, {}, {})
    sure: Sets = {}
    perhaps: Sets = {}
    for binding in bindings(roles):
        by_slot = _roles_by_slot(binding)
        ((slot, here),) = by_slot.items()
        true = possible = domains[slot].all
        for need in rule.needs:
            t, p = domains[slot].masks(need, here, scene)
            true, possible = true & t, possible & p
        everything = domains[slot].all
        sure[slot], perhaps[slot] = everything & ~possible, everything & ~true
    return True, sure, perhaps


def _roles_by_slot(binding: Binding) -> dict[int, tuple[str, ...]]:
    by_slot: dict[int, tuple[str, ...]] = {}
    for role, slot in binding.slots.items():
        by_slot[slot] = (*by_slot.get(slot, ()), role)
    return by_slot


def _bound(
    conditions: Sequence[Condition], binding: Binding, scene: Scene, domains: Sequence[Domain]
) -> Iterator[tuple[Sets, Sets]]:
    """The (sure, perhaps) sets of `conditions` under one binding; several where a condition joins two slots."""
    by_slot = _roles_by_slot(binding)
    asks_presence = {path.partition(".")[0] for c in conditions for path in c.facts() if path.endswith(".present")}
    sure = {slot: domains[slot].all & ~(0 if asks_presence & set(here) else EMPTY) for slot, here in by_slot.items()}
    perhaps = dict(sure)
    for slot in binding.empty:
        sure[slot] = perhaps[slot] = EMPTY
    joins: list[list[tuple[Sets, Sets]]] = []
    for condition in conditions:
        slots = sorted({binding.slots[role] for role in condition.roles() if role in binding.slots})
        if len(slots) == 1:
            true, possible = domains[slots[0]].masks(condition, by_slot[slots[0]], scene)
            sure[slots[0]] &= true
            perhaps[slots[0]] &= possible
        else:
            joins.append(_joined(condition, slots, by_slot, scene, domains))
    for way in product(*joins):
        s: Sets | None = sure
        p: Sets | None = perhaps
        for join_sure, join_perhaps in way:
            s = None if s is None else _both(s, join_sure)
            p = None if p is None else _both(p, join_perhaps)
        if p is not None and 0 not in p.values():
            yield (s if s is not None and 0 not in s.values() else dict.fromkeys(p, 0)), p


def _joined(
    condition: Condition,
    slots: Sequence[int],
    by_slot: Mapping[int, Sequence[str]],
    scene: Scene,
    domains: Sequence[Domain],
) -> list[tuple[Sets, Sets]]:
    """A condition over two slots, split by the distinct values that it reads in the slot with fewer of them.

    Values that leave the same options in the other slot are one part.
    """
    if len(slots) != 2:
        names = ", ".join(SLOTS[s] for s in slots)
        raise ValueError(f"a condition reads {len(slots)} slots ({names}); write it with two at the most")
    reads = {slot: Domain.reads(condition, by_slot[slot]) for slot in slots}
    few, many = sorted(slots, key=lambda s: (len(domains[s].groups(reads[s])), s))
    parts: dict[tuple[int, int], int] = {}
    for values, members in domains[few].groups(reads[few]).items():
        here: dict[str, Facts] = facts_of(reads[few], values, by_slot[few])
        masks = domains[many].masks(condition, by_slot[many], {**scene, **here})
        parts[masks] = parts.get(masks, 0) | members
    empty = domains[many].masks(condition, by_slot[many], {**scene, **dict.fromkeys(by_slot[few])})
    parts[empty] = parts.get(empty, 0) | EMPTY
    return [({few: m, many: t}, {few: m, many: p}) for (t, p), m in parts.items() if p]
