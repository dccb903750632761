"""One rule, for one job, as conjunctions over slots.

What the job and the substrate already decide is decided here; what is left of a rule is, for each way its
roles can stand on slots, a set of options per slot for which it holds (`sure`), and one for which it
holds or can't be told (`perhaps`). A need holds against a chain where its conditions are met and nothing supplies it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import cache, cached_property
from itertools import product
from typing import Any, NamedTuple

from kb.engine.domain import EMPTY, Domain, Masks, facts_of
from kb.engine.slots import INDEX, NAMES, Binding, bindings
from kb.rules.clauses import Calculation, Clause, Condition, Ref, Scene, Truth, all_of
from kb.rules.roles import CHAIN_ROLE, SLOT_OF_STAGE, SLOT_ROLES
from kb.rules.rule import Rule

Sets = dict[int, int]
Roles = tuple[str, ...]
#: A condition with the slot roles that it reads.
Standing = tuple[Condition, Roles]


class Piece(NamedTuple):
    """Where a rule holds for certain (None: nowhere) and where it may hold, as option sets by slot.

    `speaks` is where its conditions hold or may hold, whether or not a need of its is supplied.
    """

    binding: Binding
    sure: Sets | None
    perhaps: Sets
    speaks: Sets


class Apart(NamedTuple):
    """What is only wanted of a rule that some job doesn't silence."""

    #: Conditions that read slots, calculations last.
    open: tuple[Standing, ...]
    #: What these and the needs read of the job and the substrate: the rule's pieces depend on nothing else of them.
    reads: tuple[tuple[str, str], ...]
    bindings: tuple[Binding, ...]
    #: Roles of which a condition asks whether anything stands there.
    asked: frozenset[str]
    #: The slot that the rule lets be left empty.
    omitted: int | None
    needs: tuple[Standing, ...]
    #: Whether it speaks of a chain as a whole.
    of_chain: bool


class Template:
    """A rule taken apart as far as it can be before the job is known."""

    def __init__(self, rule: Rule) -> None:
        self.rule = rule
        #: Conditions on the job alone, calculations last: most jobs don't get that far.
        self.fixed: list[Condition] = []
        self._open: list[Standing] = []
        for condition in rule.when:
            roles = _slot_roles(condition)
            if roles:
                self._open.append((condition, roles))
            else:
                self.fixed.append(condition)
        if len(self.fixed) > 1:
            self.fixed.sort(key=_calculates)

    def decided(self, scene: Scene) -> Truth:
        """Tell what the conditions on the job alone come to; where that is False the rule is silent."""
        return all_of([condition.truth(scene) for condition in self.fixed]) if self.fixed else True

    @cached_property
    def apart(self) -> Apart:
        """The rest of the rule, taken apart when a job first asks: most rules are silent in most jobs."""
        rule = self.rule
        standing = sorted(self._open, key=lambda pair: _calculates(pair[0]))
        paths = [_split(path) for condition, _ in standing for path in _paths(condition)]
        wanted = [_split(path) for need in rule.needs for path in _paths(need)]
        roles = {role for role, _, on_slot in paths if on_slot}
        return Apart(
            open=tuple(standing),
            reads=tuple(dict.fromkeys((role, name) for role, name, on_slot in (*paths, *wanted) if not on_slot)),
            bindings=bindings(frozenset(roles.union(role for role in rule.about if role in SLOT_ROLES))),
            asked=frozenset(role for role, name, on_slot in paths if on_slot and name == "present"),
            omitted=INDEX[SLOT_OF_STAGE[rule.omits]] if rule.omits else None,
            needs=tuple((need, _slot_roles(need)) for need in rule.needs),
            of_chain=CHAIN_ROLE in rule.roles(),
        )

    def pieces(self, scene: Scene, domains: Sequence[Domain]) -> list[Piece]:
        """The rule as pieces, where what the job alone decides holds; none where no option meets the rest.

        >>> from kb.rules.clauses import Clause
        >>> rule = Rule("r", "", "block", ("part",), "", "", "", "memory", (), (Clause("part.populated", "is", True),))
        >>> Template(rule).decided({"part": {"populated": False}})
        False
        >>> [piece.sure for piece in Template(rule).pieces({}, ())]
        [{}]
        """
        apart = self.apart
        view = _View(scene, domains)
        unmet = self._unmet(view)
        if unmet is None:
            return []
        known, unmet_sure, unmet_perhaps = unmet
        found: list[Piece] = []
        for binding in apart.bindings:
            for sure, perhaps in view.conjunctions(binding, self._start(binding, domains), apart.open):
                against = both(perhaps, unmet_perhaps)
                if against is not None:
                    found.append(Piece(binding, both(sure, unmet_sure) if known else None, against, perhaps))
        return found

    def _start(self, binding: Binding, domains: Sequence[Domain]) -> Sets:
        """What the slots may hold before any condition is asked: something, unless a condition asks whether they do.

        What a rule lets be left out may be left out, too.
        """
        start: Sets = {}
        for slot, roles in binding.roles.items():
            empty = slot == self.apart.omitted or not self.apart.asked.isdisjoint(roles)
            start[slot] = domains[slot].all if empty else domains[slot].filled
        for slot in binding.empty:
            start[slot] = EMPTY
        return start

    def _unmet(self, view: _View) -> tuple[bool, Sets, Sets] | None:
        """Where the need is not supplied: (known, for certain, perhaps). None where the job itself supplies it.

        Several coats may supply a need: it is unmet where each of them fails it.
        """
        if not self.apart.needs:
            return True, {}, {}
        roles = frozenset(role for _, here in self.apart.needs for role in here)
        if not roles:
            supplied = all_of(need.truth(view.scene) for need, _ in self.apart.needs)
            return None if supplied is True else (supplied is False, {}, {})
        sure: Sets = {}
        perhaps: Sets = {}
        for binding in bindings(roles):
            ((slot, here),) = binding.roles.items()
            everything = view.domains[slot].all
            true = possible = everything
            for need, _ in self.apart.needs:
                t, p = view.masks(need, slot, here)
                true, possible = true & t, possible & p
            sure[slot], perhaps[slot] = everything & ~possible, everything & ~true
        return True, sure, perhaps


class _View:
    """A job's scene over the domains; what a condition asks of a domain is worked out once."""

    __slots__ = ("_known", "_parts", "domains", "scene")

    def __init__(self, scene: Scene, domains: Sequence[Domain]) -> None:
        self.scene, self.domains = scene, domains
        self._known: dict[tuple[int, Roles, str, int], Masks] = {}
        self._parts: dict[tuple[int, Roles, Roles, str, str], dict[Masks, int]] = {}

    def masks(self, condition: Condition, slot: int, roles: Roles, within: int = -1) -> Masks:
        """The options of `slot` that meet `condition` where `roles` stand for them; calculated only `within` a mask."""
        domain = self.domains[slot]
        key = (id(condition), roles, domain.kind, within if _calculates(condition) else -1)
        known = self._known.get(key)
        if known is None:
            known = self._known[key] = domain.masks(condition, roles, self.scene, key[3])
        return known

    def conjunctions(
        self, binding: Binding, start: Sets, conditions: Sequence[Standing]
    ) -> list[tuple[Sets | None, Sets]]:
        """The (sure, perhaps) sets of a rule's conditions; several where a condition joins two slots."""
        sure, perhaps = dict(start), start
        joins: list[list[tuple[Sets, Sets]]] = []
        for condition, reads in conditions:
            slots = {binding.slots[role] for role in reads}
            if len(slots) == 1:
                (slot,) = slots
                true, possible = self.masks(condition, slot, binding.roles[slot], perhaps[slot])
                sure[slot] &= true
                perhaps[slot] &= possible
                if not perhaps[slot]:
                    return []
            else:
                joins.append(self._joined(condition, sorted(slots), binding.roles))
        if not joins:
            return [(sure if 0 not in sure.values() else None, perhaps)]
        found: list[tuple[Sets | None, Sets]] = []
        for way in product(*joins):
            s: Sets | None = sure
            p: Sets | None = perhaps
            for join_sure, join_perhaps in way:
                s, p = both(s, join_sure), both(p, join_perhaps)
            if p is not None and 0 not in p.values():
                found.append((s if s is not None and 0 not in s.values() else None, p))
        return found

    def _joined(
        self, condition: Condition, slots: Sequence[int], roles: Mapping[int, Roles]
    ) -> list[tuple[Sets, Sets]]:
        """A condition over two slots, split by the distinct values that it reads in the slot with fewer of them."""
        if len(slots) > 2:
            names = ", ".join(NAMES[slot] for slot in slots)
            raise ValueError(f"a condition reads {len(slots)} slots ({names}); write it with two at the most")
        counts = {slot: len(self.domains[slot].groups(Domain.reads(condition, roles[slot]))) for slot in slots}
        few, many = sorted(slots, key=lambda slot: (counts[slot], slot))
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


def _paths(condition: Condition) -> Iterable[str]:
    """Every fact path that `condition` reads; the usual form without detours."""
    if isinstance(condition, Clause) and isinstance(condition.fact, str):
        return (condition.fact, condition.value.fact) if isinstance(condition.value, Ref) else (condition.fact,)
    return condition.facts()


def _slot_roles(condition: Condition) -> Roles:
    """The slot roles that `condition` reads; the usual form without detours."""
    if isinstance(condition, Clause) and isinstance(condition.fact, str) and not isinstance(condition.value, Ref):
        role, _, on_slot = _split(condition.fact)
        return (role,) if on_slot else ()
    return tuple(dict.fromkeys(role for role, _, on_slot in map(_split, _paths(condition)) if on_slot))


@cache
def _split(path: str) -> tuple[str, str, bool]:
    """Role and field of a fact path, and whether the role stands on a slot."""
    role, _, field = path.partition(".")
    return role, field, role in SLOT_ROLES


def _calculates(condition: Condition) -> bool:
    """Whether it takes a calculation."""
    return isinstance(condition, Clause) and isinstance(condition.fact, Calculation)


def both(one: Sets | None, other: Sets | None) -> Sets | None:
    """The sets that lie in both; None where a slot has nothing left."""
    if one is None or other is None:
        return None
    if not other:
        return None if 0 in one.values() else one
    joined = dict(one)
    for slot, mask in other.items():
        joined[slot] = joined.get(slot, -1) & mask
    return None if 0 in joined.values() else joined


def job_values(reads: Iterable[tuple[str, str]], scene: Scene) -> tuple[Any, ...]:
    """The job's values of what a rule reads of it; None for one that isn't known."""
    return tuple([(scene.get(role) or {}).get(name) for role, name in reads])
