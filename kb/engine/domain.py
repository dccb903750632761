"""What can stand in a slot, and which of it meets a condition, as bit masks.

Bit 0 stands for the empty slot, bit n for option n. A condition is evaluated once for each distinct value of
the facts that it reads, not once for each item: cost grows with what the rules can tell apart.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from kb.clauses import Condition
from kb.engine.slots import KIND_OF_SLOT, SLOTS
from kb.knowledge import Entry, Knowledge

EMPTY = 1
Facts = Mapping[str, Any]
#: (true, possible): options for which a condition holds, and for which it holds or isn't known.
Masks = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Option:
    """An item in a slot; an adhesive together with one of its cures. No entry: the slot is left empty."""

    entry: Entry | None
    cure: Facts | None = None

    def facts(self, role: str) -> Facts | None:
        """What a rule reads when `role` stands for this option."""
        if self.entry is None:
            return None
        return self.cure if role == "cure" else self.entry.facts

    @property
    def id(self) -> str:
        return self.entry.id if self.entry else ""


@dataclass
class Domain:
    """All options of one slot."""

    slot: str
    options: tuple[Option, ...]
    _groups: dict[tuple[tuple[str, str], ...], dict[tuple[Any, ...], int]] = field(default_factory=dict)

    @property
    def all(self) -> int:
        """The mask of every option, the empty one among them."""
        return (1 << len(self.options)) - 1

    def groups(self, reads: tuple[tuple[str, str], ...]) -> dict[tuple[Any, ...], int]:
        """The filled options by the values of the (role, field) pairs that `reads` names."""
        known = self._groups.get(reads)
        if known is None:
            known = {}
            for index, option in enumerate(self.options[1:], start=1):
                key = tuple((option.facts(role) or {}).get(name, _NOTHING) for role, name in reads)
                known[key] = known.get(key, 0) | 1 << index
            self._groups[reads] = known
        return known

    def masks(self, condition: Condition, roles: Sequence[str], scene: Mapping[str, Facts | None]) -> Masks:
        """Which options meet `condition` when each of `roles` stands for the option, the rest being as in `scene`."""
        true = possible = 0
        truth = condition.truth({**scene, **dict.fromkeys(roles)})
        if truth is not False:
            possible |= EMPTY
            true |= EMPTY if truth else 0
        reads = self.reads(condition, roles)
        for values, members in self.groups(reads).items():
            truth = condition.truth({**scene, **facts_of(reads, values, roles)})
            if truth is not False:
                possible |= members
                if truth:
                    true |= members
        return true, possible

    @staticmethod
    def reads(condition: Condition, roles: Sequence[str]) -> tuple[tuple[str, str], ...]:
        """The (role, field) pairs of `roles` that `condition` reads."""
        paths = (path.partition(".") for path in condition.facts())
        return tuple(dict.fromkeys((role, name) for role, _, name in paths if role in roles and name != "present"))


_NOTHING = object()


def facts_of(reads: tuple[tuple[str, str], ...], values: tuple[Any, ...], roles: Sequence[str]) -> dict[str, Facts]:
    """A scene in which `roles` have just the facts that `reads` names, with these values."""
    scene: dict[str, dict[str, Any]] = {role: {} for role in roles}
    for (role, name), value in zip(reads, values, strict=True):
        if value is not _NOTHING:
            scene[role][name] = value
    return dict(scene)


def domains(knowledge: Knowledge) -> tuple[Domain, ...]:
    """The domain of every slot, in slot order; items in catalog order, the cures of an adhesive in its own."""
    by_kind: dict[str, tuple[Option, ...]] = {}
    for kind in dict.fromkeys(KIND_OF_SLOT.values()):
        options = [Option(None)]
        for entry in knowledge.by_kind.get(kind, ()):
            cures = entry.facts["schedules"] if kind == "adhesive" else (None,)
            options += [Option(entry, cure) for cure in cures]
        by_kind[kind] = tuple(options)
    shared: dict[str, dict[tuple[tuple[str, str], ...], dict[tuple[Any, ...], int]]] = {}
    return tuple(Domain(slot, by_kind[KIND_OF_SLOT[slot]], shared.setdefault(KIND_OF_SLOT[slot], {})) for slot in SLOTS)
