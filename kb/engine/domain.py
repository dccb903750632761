"""What can stand in a slot, and which of it meets a condition, as bit masks.

Bit 0 stands for the empty slot, bit n for option n. A condition is evaluated once for each distinct value of
the facts that it reads, not once for each item: cost grows with what the rules can tell apart.
"""

from __future__ import annotations

from collections.abc import Container, Mapping, Sequence
from functools import cached_property
from typing import NamedTuple

from kb.engine.search.masks import union
from kb.knowledge import Entry, Knowledge
from kb.knowledge.index import Index, mask_of, masks_of, option_facts
from kb.rules.clauses import ABSENT, OPERATORS, UNKNOWN, AnyOf, Clause, Condition, Facts, Ref, Value, look_up, role_of
from kb.rules.roles import CHAIN_KINDS, SLOTS

EMPTY = 1
#: (true, possible): options for which a condition holds, and for which it holds or isn't known.
Masks = tuple[int, int]
#: (role, field) pairs that a condition reads of one slot.
Reads = tuple[tuple[str, str], ...]


class Option(NamedTuple):
    """An item in a slot; an adhesive together with one of its cures. No entry: the slot is left empty."""

    entry: Entry | None
    cure: Facts | None = None

    def facts(self, role: str) -> Facts | None:
        """Give what a rule reads when `role` stands for this option."""
        if self.entry is None:
            return None
        return self.cure if role == "cure" else self.entry.facts

    @property
    def id(self) -> str:
        return self.entry.id if self.entry else ""


class Domain:
    """All options of the slots of one kind: items in catalog order, the cures of an adhesive in its own."""

    def __init__(self, kind: str, entries: Sequence[Entry], index: Index) -> None:
        self.kind = kind
        self.entries = entries
        self._values = dict(index)
        self._groups: dict[Reads, dict[tuple[Value, ...], int]] = {}

    @cached_property
    def options(self) -> Sequence[Option]:
        """Every option, the empty one first."""
        if self.kind == "adhesive":
            return (Option(None), *(Option(e, cure) for e in self.entries for cure in e.facts["schedules"]))
        return (Option(None), *map(Option, self.entries))

    @cached_property
    def _facts(self) -> tuple[Sequence[Facts], Sequence[Facts]]:
        return option_facts(self.kind, [entry.facts for entry in self.entries])

    @cached_property
    def all(self) -> int:
        """The mask of every option, the empty one among them."""
        adhesive = self.kind == "adhesive"
        filled = sum([len(e.facts["schedules"]) for e in self.entries]) if adhesive else len(self.entries)
        return (2 << filled) - 1

    @cached_property
    def filled(self) -> int:
        """The mask of every option but the empty one."""
        return self.all & ~EMPTY

    def places(self, ids: Container[str]) -> int:
        """Mark the options that are one of the items `ids`."""
        places = (place for place, option in enumerate(self.options) if option.entry is not None and option.id in ids)
        return mask_of(places, len(self.options))

    def values(self, role: str, field: str) -> Mapping[Value, int]:
        """Group the filled options by the value of a fact; None stands for not known."""
        key = (role == "cure", field)
        if key not in self._values:
            self._values[key] = masks_of(self._facts[key[0]], field)
        return self._values[key]

    def groups(self, reads: Reads) -> Mapping[tuple[Value, ...], int]:
        """Group the filled options by the values of several facts together."""
        if reads not in self._groups:
            groups: dict[tuple[Value, ...], int] = {(): self.filled} if self.filled else {}
            for role, field in reads:
                values = self.values(role, field).items()
                groups = {
                    (*values_so_far, value): both
                    for values_so_far, here in groups.items()
                    for value, mask in values
                    if (both := here & mask)
                }
            self._groups[reads] = groups
        return self._groups[reads]

    def masks(
        self, condition: Condition, roles: Sequence[str], scene: Mapping[str, Facts | None], within: int = -1
    ) -> Masks:
        """Mark the options that meet `condition` when each of `roles` stands for the option, the rest as in `scene`.

        Options outside `within` needn't be looked at.
        """
        if isinstance(condition, AnyOf):
            true = possible = 0
            for clause in condition.clauses:
                t, p = self.masks(clause, roles, scene)
                true, possible = true | t, possible | p
            return true, possible
        left, right = condition.fact, condition.value.fact if isinstance(condition.value, Ref) else ""
        if isinstance(left, str) and not left.endswith(".present"):
            here, there = role_of(left) in roles, role_of(right) in roles
            if here != there:
                return self._compared(condition, left if here else right, scene)
        return self._tried(condition, roles, scene, within)

    def _tried(
        self, condition: Condition, roles: Sequence[str], scene: Mapping[str, Facts | None], within: int
    ) -> Masks:
        """Ask any condition of the empty slot, and once for each distinct value of the facts that it reads."""
        truth = condition.truth({**scene, **dict.fromkeys(roles)})
        true = EMPTY if truth is True else 0
        possible = EMPTY if truth is not False else 0
        reads = self.reads(condition, roles)
        for values, members in self.groups(reads).items():
            if not members & within:
                continue
            truth = condition.truth({**scene, **facts_of(reads, values, roles)})
            if truth is not False:
                possible |= members
                if truth:
                    true |= members
        return true, possible

    def _compared(self, clause: Clause, own: str, scene: Mapping[str, Facts | None]) -> Masks:
        """Compare one fact of the option, `own`, with something else: straight from the values.

        The empty slot meets none, and a fact that isn't known leaves it open, as in `Clause.truth`.
        """
        assert isinstance(clause.fact, str)
        role, _, field = own.partition(".")
        values = self.values(role, field)
        is_left = own == clause.fact
        other = clause.value if is_left else look_up(clause.fact, scene)
        if isinstance(other, Ref):
            other = look_up(other.fact, scene)
        if other is ABSENT:
            return 0, 0
        if other is UNKNOWN:
            return 0, self.filled
        plus = clause.value.plus if isinstance(clause.value, Ref) else 0
        if plus and is_left:
            other += plus
        true = 0
        if clause.op == "is" and not plus:
            true = values.get(other, 0)
        elif clause.op == "one-of" and is_left:
            for each in other:
                true |= values.get(each, 0)
        else:
            holds = OPERATORS[clause.op]
            for value, members in values.items():
                try:
                    if value is not None and (
                        holds(value, other) if is_left else holds(other, value + plus if plus else value)
                    ):
                        true |= members
                except TypeError:
                    continue
        return true, true | values.get(None, 0)

    @staticmethod
    def reads(condition: Condition, roles: Sequence[str]) -> Reads:
        """List the (role, field) pairs of `roles` that `condition` reads."""
        paths = (path.partition(".") for path in condition.facts())
        return tuple(dict.fromkeys((role, name) for role, _, name in paths if role in roles and name != "present"))


def facts_of(reads: Reads, values: Sequence[Value], roles: Sequence[str]) -> dict[str, Facts]:
    """Make a scene in which `roles` have just the facts that `reads` names, with these values; None: not known."""
    scene: dict[str, dict[str, Value]] = {role: {} for role in roles}
    for (role, name), value in zip(reads, values, strict=True):
        if value is not None:
            scene[role][name] = value
    return dict(scene)


def domains(knowledge: Knowledge) -> tuple[Domain, ...]:
    """Lay out the domain of every slot, in slot order. Slots of one kind share theirs.

    Raises ValueError where the knowledge's index counts other items than it holds: every mask would be of wrong ones.
    """
    kinds = {kind: Domain(kind, knowledge.by_kind.get(kind, ()), knowledge.index.get(kind, {})) for kind in CHAIN_KINDS}
    for kind, domain in kinds.items():
        if union(domain.values(kind, "basis").values()) != domain.filled:
            raise ValueError(f"the index of kind {kind} was made of other items")
    return tuple(kinds[slot.kind] for slot in SLOTS.values())
