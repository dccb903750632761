"""One rule, for one job, as conjunctions over slots.

What the job and the substrate already decide is decided here; what is left of a rule is, for each way its
roles can stand on slots, a set of options per slot for which it holds (`sure`), and one for which it
holds or can't be told (`perhaps`). A need holds against a chain where its conditions are met and nothing supplies it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cached_property
from itertools import product
from typing import Any, NamedTuple

from kb.clauses import Calculation, Clause, Condition, Scene, all_of, role_of
from kb.engine.domain import EMPTY, Domain, Masks, facts_of
from kb.engine.slots import INDEX, SLOT_OF_STAGE, SLOTS, Binding, bindings
from kb.rules import SLOT_ROLES, Rule

Sets = dict[int, int]
Roles = tuple[str, ...]


class Piece(NamedTuple):
    """Where a rule holds for certain (None: nowhere) and where it may hold, as option sets by slot.

    `speaks` is where its conditions hold or may hold, whether or not a need of its is supplied.
    """

    binding: Binding
    sure: Sets | None
    perhaps: Sets
    speaks: Sets


class Bound(NamedTuple):
    """The conditions of a rule sorted for one binding: those on one slot, those that join two, and what starts open."""

    binding: Binding
    roles: Mapping[int, Roles]
    start: Sets
    single: tuple[tuple[Condition, int], ...]
    double: tuple[tuple[Condition, int, int], ...]


class Template:
    """A rule taken apart as far as it can be before the job is known."""

    def __init__(self, rule: Rule) -> None:
        self.rule = rule
        on_slots = [any(role_of(path) in SLOT_ROLES for path in c.facts()) for c in rule.when]
        #: Conditions on the job alone, calculations last: most jobs don't get that far.
        self.fixed = sorted((c for c, on in zip(rule.when, on_slots, strict=True) if not on), key=_calculates)
        self.open = sorted((c for c, on in zip(rule.when, on_slots, strict=True) if on), key=_calculates)

    @cached_property
    def reads(self) -> tuple[tuple[str, str], ...]:
        """What it reads of the job and the substrate: all that its pieces depend on, beside the options."""
        paths = (path.partition(".") for c in (*self.rule.when, *self.rule.needs) for path in c.facts())
        return tuple(dict.fromkeys((role, name) for role, _, name in paths if role not in SLOT_ROLES))

    @cached_property
    def bound(self) -> list[Bound]:
        """The rule in each of its bindings."""
        conditions = [(c, c.roles()) for c in self.open]
        roles = (*self.rule.about, *(role for _, here in conditions for role in here))
        asked = {role_of(path) for c in self.open for path in c.facts() if path.endswith(".present")}
        return [_bound(b, conditions, asked, self.omitted) for b in bindings(_slot_roles(roles))]

    @cached_property
    def omitted(self) -> int | None:
        """The slot that may stay empty where the rule holds."""
        return INDEX[SLOT_OF_STAGE[self.rule.omits]] if self.rule.omits else None

    @cached_property
    def need_bound(self) -> list[Bound]:
        """The needs in each of their bindings: several coats, say, may supply one."""
        conditions = [(need, need.roles()) for need in self.rule.needs]
        roles = _slot_roles(role for _, here in conditions for role in here)
        return [_bound(binding, conditions, set(roles)) for binding in bindings(roles)] if roles else []

    def silent(self, scene: Scene) -> bool:
        """Whether the job alone silences the rule."""
        return any(c.truth(scene) is False for c in self.fixed)

    def job_values(self, scene: Scene) -> tuple[Any, ...]:
        """The job's values of all that the rule reads of it; None for one that isn't known."""
        return tuple([(scene.get(role) or {}).get(name) for role, name in self.reads])

    def pieces(self, scene: Scene, domains: Sequence[Domain]) -> list[Piece]:
        """The rule as pieces; none where the job alone silences it.

        >>> from kb.clauses import Clause
        >>> rule = Rule("r", "", "block", ("part",), "", "", "", "memory", (), (Clause("part.populated", "is", True),))
        >>> Template(rule).pieces({"part": {"populated": False}}, ())
        []
        """
        decided = all_of(c.truth(scene) for c in self.fixed)
        if decided is False:
            return []
        view = View(scene, domains)
        unmet = self._unmet(view)
        if unmet is None:
            return []
        known, unmet_sure, unmet_perhaps = unmet
        found: list[Piece] = []
        for bound in self.bound:
            for sure, perhaps in view.conjunctions(bound):
                against = both(perhaps, unmet_perhaps)
                if against is not None:
                    certain = both(sure, unmet_sure) if decided is True and known else None
                    found.append(Piece(bound.binding, certain, against, perhaps))
        return found

    def _unmet(self, view: View) -> tuple[bool, Sets, Sets] | None:
        """Where the need is not supplied: (known, for certain, perhaps). None where the job itself supplies it."""
        needs = self.rule.needs
        if not needs:
            return True, {}, {}
        if not self.need_bound:
            supplied = all_of(need.truth(view.scene) for need in needs)
            return None if supplied is True else (supplied is False, {}, {})
        sure: Sets = {}
        perhaps: Sets = {}
        for bound in self.need_bound:
            ((slot, roles),) = bound.roles.items()
            everything = view.domains[slot].all
            true = possible = everything
            for need in needs:
                t, p = view.masks(need, slot, roles)
                true, possible = true & t, possible & p
            sure[slot], perhaps[slot] = everything & ~possible, everything & ~true
        return True, sure, perhaps


class View:
    """A job's scene over the domains; what a condition asks of a domain is worked out once."""

    def __init__(self, scene: Scene, domains: Sequence[Domain]) -> None:
        self.scene, self.domains = scene, domains
        self._known: dict[tuple[int, Roles, str, int], Masks] = {}
        self._parts: dict[tuple[int, Roles, Roles, str, str], dict[Masks, int]] = {}

    def masks(self, condition: Condition, slot: int, roles: Roles, within: int = -1) -> Masks:
        """The options of `slot` that meet `condition` where `roles` stand for them; calculated only `within` a mask."""
        domain = self.domains[slot]
        key = (id(condition), roles, domain.kind, within if _calculates(condition) else -1)
        if key not in self._known:
            self._known[key] = domain.masks(condition, roles, self.scene, key[-1])
        return self._known[key]

    def conjunctions(self, bound: Bound) -> Iterator[tuple[Sets | None, Sets]]:
        """The (sure, perhaps) sets of a rule's conditions; several where a condition joins two slots."""
        sure, perhaps = {}, {}
        for slot, mask in bound.start.items():
            sure[slot] = perhaps[slot] = mask & self.domains[slot].all
        for condition, slot in bound.single:
            true, possible = self.masks(condition, slot, bound.roles[slot], perhaps[slot])
            sure[slot] &= true
            perhaps[slot] &= possible
            if not perhaps[slot]:
                return
        joins = [self._joined(condition, one, other, bound.roles) for condition, one, other in bound.double]
        for way in product(*joins):
            s: Sets | None = sure
            p: Sets | None = perhaps
            for join_sure, join_perhaps in way:
                s, p = both(s, join_sure), both(p, join_perhaps)
            if p is not None and 0 not in p.values():
                yield (s if s is not None and 0 not in s.values() else None), p

    def _joined(
        self, condition: Condition, one: int, other: int, roles: Mapping[int, Roles]
    ) -> list[tuple[Sets, Sets]]:
        """A condition over two slots, split by the distinct values that it reads in the slot with fewer of them."""
        counts = {s: len(self.domains[s].groups(Domain.reads(condition, roles[s]))) for s in (one, other)}
        few, many = sorted((one, other), key=lambda slot: (counts[slot], slot))
        key = (id(condition), roles[few], roles[many], self.domains[few].kind, self.domains[many].kind)
        if key not in self._parts:
            self._parts[key] = self._split(condition, self.domains[few], roles[few], self.domains[many], roles[many])
        return [({few: m, many: t}, {few: m, many: p}) for (t, p), m in self._parts[key].items() if p]

    def _split(
        self, condition: Condition, few: Domain, few_roles: Roles, many: Domain, many_roles: Roles
    ) -> dict[Masks, int]:
        """The options of `few` by the options of `many` with which they meet `condition`."""
        reads = Domain.reads(condition, few_roles)
        parts = {many.masks(condition, many_roles, {**self.scene, **dict.fromkeys(few_roles)}): EMPTY}
        for values, members in few.groups(reads).items():
            masks = many.masks(condition, many_roles, {**self.scene, **facts_of(reads, values, few_roles)})
            parts[masks] = parts.get(masks, 0) | members
        return parts


def _calculates(condition: Condition) -> bool:
    """Whether it takes a calculation."""
    return isinstance(condition, Clause) and isinstance(condition.fact, Calculation)


def _bound(
    binding: Binding, conditions: Sequence[tuple[Condition, set[str]]], asked: set[str], omitted: int | None = None
) -> Bound:
    """`conditions`, each with its roles, sorted for `binding`.

    A slot must be filled, unless a condition asks whether it is (`asked`) or it is what the rule lets be `omitted`.
    """
    roles: dict[int, Roles] = {}
    for role, slot in binding.slots.items():
        roles[slot] = (*roles.get(slot, ()), role)
    start = {slot: -1 if slot == omitted or asked & set(here) else ~EMPTY for slot, here in roles.items()}
    single: list[tuple[Condition, int]] = []
    double: list[tuple[Condition, int, int]] = []
    for condition, reads in conditions:
        slots = sorted({binding.slots[role] for role in reads if role in binding.slots})
        if len(slots) == 1:
            single.append((condition, slots[0]))
        elif len(slots) == 2:
            double.append((condition, slots[0], slots[1]))
        else:
            names = ", ".join(SLOTS[s] for s in slots)
            raise ValueError(f"a condition reads {len(slots)} slots ({names}); write it with two at the most")
    return Bound(binding, roles, start | dict.fromkeys(binding.empty, EMPTY), tuple(single), tuple(double))


def _slot_roles(roles: Iterable[str]) -> frozenset[str]:
    return frozenset(role for role in roles if role in SLOT_ROLES)


def both(one: Sets | None, other: Sets | None) -> Sets | None:
    """The sets that lie in both; None where a slot has nothing left."""
    if one is None or other is None:
        return None
    joined = dict(one)
    for slot, mask in other.items():
        joined[slot] = joined.get(slot, -1) & mask
    return None if 0 in joined.values() else joined
