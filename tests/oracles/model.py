"""A planning problem as plain sets, built from the rules by `judge`: what the oracles solve.

For each way a rule can stand on slots, the options are put into cells by the facts that the rule reads of them, and
the rule is asked once for each combination of cells. What it answers is a clause over slots: forbidden, or so many
points and milliseconds. Nothing here comes from kb.engine.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise, product
from typing import Any

from kb.knowledge import Knowledge
from kb.rules.roles import ALWAYS_FILLED, OMITS_OF_SLOT, SLOT_ROLES
from kb.rules.rule import Rule
from tests.oracles.evaluate import (
    COATS,
    SLOTS,
    Choice,
    Outcome,
    Placement,
    Points,
    Scene,
    above,
    choices,
    milliseconds,
    outcome,
    placements,
    placements_of,
    slot_roles,
    timed,
)

#: Positions of choices by slot; all of them must be met.
Sets = Mapping[str, frozenset[int]]


@dataclass(frozen=True)
class Clause:
    """What holds where every slot named is filled from its set: forbidden, or points and milliseconds."""

    sets: Sets
    closes: bool = False
    points: int = 0
    ms: int = 0


@dataclass
class Model:
    """Slots with their classes of choices, and what joins them. A class costs points and time and has members."""

    classes: dict[str, list[tuple[int, int, tuple[int, ...]]]]
    clauses: list[Clause]
    #: Slots that may be empty (class 0) only where one of these holds.
    permits: dict[str, list[Sets]]
    limit_ms: int
    names: dict[str, list[str]] = field(default_factory=dict)


class Builder:
    """Models of many jobs over one knowledge; what a rule answers is kept by what it reads of the job."""

    def __init__(self, knowledge: Knowledge, prefer: str | None = None) -> None:
        self.knowledge = knowledge
        self.points = Points(knowledge.tables["ranking"], prefer)
        self.choices = {slot: choices(knowledge, slot) for slot in SLOTS}
        self._known: dict[tuple[str, tuple[Any, ...]], list[tuple[Sets, Outcome]]] = {}

    def model(self, scene: Scene) -> Model:
        """The problem that `scene`, a job with its substrate, poses."""
        clauses: list[Clause] = [*_structure(self.choices)]
        permits: dict[str, list[Sets]] = {slot: [] for slot in OMITS_OF_SLOT}
        for rule in (*self.knowledge.rules, *timed(self.knowledge)):
            if "chain" in rule.roles():
                continue
            for sets, found in self._answers(rule, scene):
                if found.closes or found.points or found.ms:
                    clauses.append(Clause(sets, found.closes, found.points, found.ms))
                if found.omits:
                    slot = next(slot for slot, stage in OMITS_OF_SLOT.items() if stage == rule.omits)
                    permits[slot].append({s: members for s, members in sets.items() if s != slot})
        limit = milliseconds((scene["limits"] or {})["ready_within_min"])
        service = scene["service"] or {}
        worth = {
            slot: [(self.points.of_choice(slot, c, service), milliseconds(self.points.minutes(slot, c))) for c in here]
            for slot, here in self.choices.items()
        }
        model = reduced(worth, clauses, permits, limit)
        model.names = {slot: [c.name for c in here] for slot, here in self.choices.items()}
        return model

    def _answers(self, rule: Rule, scene: Scene) -> list[tuple[Sets, Outcome]]:
        conditions = (*rule.when, *rule.needs)
        reads = sorted({path for c in conditions for path in c.facts() if path.split(".")[0] not in SLOT_ROLES})
        values = tuple((scene.get(role) or {}).get(name) for role, _, name in (path.partition(".") for path in reads))
        # What minutes cost hangs on how long the service is.
        key = (rule.id, (*values, (scene.get("service") or {}).get("duration_days")))
        if key not in self._known:
            # A condition on the job alone that is false silences the rule, whatever stands in the slots.
            alone = (c for c in rule.when if not c.roles() & SLOT_ROLES.keys())
            silent = any(c.truth(scene) is False for c in alone)
            self._known[key] = [] if silent else list(self._asked(rule, scene))
        return self._known[key]

    def _asked(self, rule: Rule, scene: Scene) -> Iterator[tuple[Sets, Outcome]]:
        supplying = [] if not rule.needs else placements(slot_roles(rule.needs))
        for placement in placements_of(rule):
            slots = dict.fromkeys(slot for way in (placement, *supplying) for _, slot in way)
            if (last := above(dict(placement))) is not None:
                slots[last] = None
            if rule.omits:
                slots[next(slot for slot, stage in OMITS_OF_SLOT.items() if stage == rule.omits)] = None
            cells = {slot: self._cells(rule, slot, (placement, *supplying)) for slot in slots}
            answers: dict[Outcome, list[tuple[int, ...]]] = {}
            for combination in product(*(range(len(cells[slot])) for slot in slots)):
                chain = {s: self.choices[s][cells[s][c][0]] for s, c in zip(slots, combination, strict=True)}
                found = outcome(rule, placement, scene, chain, self.points)
                if found is not None:
                    answers.setdefault(found, []).append(combination)
            for found, combinations in answers.items():
                for way in boxes(combinations):
                    yield (
                        {
                            slot: frozenset(position for cell in here for position in cells[slot][cell])
                            for slot, here in zip(slots, way, strict=True)
                        },
                        found,
                    )

    def _cells(self, rule: Rule, slot: str, ways: Iterable[Placement]) -> list[list[int]]:
        """Positions of the choices in `slot` that `rule` can't tell apart; the empty slot by itself."""
        roles = {role for way in ways for role, here in way if here == slot}
        reads = sorted({tuple(path.split(".", 1)) for path in rule.facts() if path.split(".")[0] in roles})
        cells: dict[tuple[Any, ...], list[int]] = {}
        for position, choice in enumerate(self.choices[slot]):
            facts = {role: (choice.cure if role == "cure" else choice.entry and choice.entry.facts) for role in roles}
            values = tuple((facts[role] or {}).get(name) for role, name in reads)
            cells.setdefault((choice.entry is None, *values), []).append(position)
        return list(cells.values())


def boxes(combinations: Sequence[tuple[int, ...]]) -> list[tuple[frozenset[int], ...]]:
    """Combinations of cells as products of sets, none twice: taken together dimension by dimension.

    >>> boxes([(0, 0), (0, 1), (1, 0), (1, 1)])
    [(frozenset({0, 1}), frozenset({0, 1}))]
    """
    found = {tuple(frozenset((cell,)) for cell in combination) for combination in combinations}
    for dimension in range(len(combinations[0]) if combinations else 0):
        merged: dict[tuple[frozenset[int], ...], frozenset[int]] = {}
        for box in found:
            rest = (*box[:dimension], *box[dimension + 1 :])
            merged[rest] = merged.get(rest, frozenset()) | box[dimension]
        found = {(*rest[:dimension], cells, *rest[dimension:]) for rest, cells in merged.items()}
    return sorted(found, key=lambda box: [sorted(cells) for cells in box])


def _structure(everything: Mapping[str, Sequence[Choice]]) -> Iterator[Clause]:
    """What every chain has, and no coat over a gap."""
    empty = frozenset((0,))
    for slot in ALWAYS_FILLED:
        yield Clause({slot: empty}, closes=True)
    for lower, upper in pairwise(COATS):
        yield Clause({lower: empty, upper: frozenset(range(1, len(everything[upper])))}, closes=True)


def reduced(
    worth: Mapping[str, Sequence[tuple[int, int]]],
    clauses: Sequence[Clause],
    permits: Mapping[str, Sequence[Sets]],
    limit_ms: int,
) -> Model:
    """The problem without choices that a clause closes by itself, and with like choices as one class.

    `worth` holds points and milliseconds of each choice.
    """
    left = {slot: set(range(len(here))) for slot, here in worth.items()}
    joining = []
    for clause in clauses:
        telling = {slot: here for slot, here in clause.sets.items() if len(here) < len(worth[slot])}
        if clause.closes and len(telling) <= 1:
            for slot, here in telling.items() or [(slot, frozenset(left[slot])) for slot in worth]:
                left[slot] -= here
        else:
            joining.append(Clause(telling, clause.closes, clause.points, clause.ms))
    named: dict[str, list[frozenset[int]]] = {slot: [] for slot in worth}
    for sets in (*(clause.sets for clause in joining), *(permit for here in permits.values() for permit in here)):
        for slot, here in sets.items():
            if here not in named[slot]:
                named[slot].append(here)
    classes: dict[str, list[tuple[int, int, tuple[int, ...]]]] = {}
    class_of: dict[str, dict[int, int]] = {}
    for slot, own in worth.items():
        alike: dict[tuple[Any, ...], list[int]] = {}
        for position in sorted(left[slot]):
            sign = (position == 0, own[position], *(position in members for members in named[slot]))
            alike.setdefault(sign, []).append(position)
        classes[slot] = [(*own[members[0]], tuple(members)) for members in alike.values()]
        class_of[slot] = {p: number for number, members in enumerate(alike.values()) for p in members}

    def as_classes(sets: Sets) -> Sets:
        return {s: frozenset(class_of[s][p] for p in here if p in class_of[s]) for s, here in sets.items()}

    kept: dict[tuple[Any, ...], Clause] = {}
    for clause in joining:
        sets = as_classes(clause.sets)
        if all(sets.values()):
            key = (clause.closes, tuple(sorted((slot, tuple(sorted(here))) for slot, here in sets.items())))
            old = kept.get(key, Clause(sets))
            kept[key] = Clause(sets, clause.closes, old.points + clause.points, old.ms + clause.ms)
    return Model(
        classes,
        [clause for clause in kept.values() if clause.closes or clause.points or clause.ms],
        {slot: [as_classes(permit) for permit in here] for slot, here in permits.items()},
        limit_ms,
    )
