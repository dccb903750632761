"""The numbers at which the rules' answer to a job can change while one number of the job moves.

They come from what the rules compare with what the job asks: a literal, a fact of an item, or the value at which
a calculation's result passes its limit. Between two of them nothing changes, so a value that gives a chain is
found exactly by looking at each of them and once between each two.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Container, Iterable, Iterator, Sequence
from functools import cache

from kb.engine.domain import EMPTY, Domain, Option
from kb.engine.search.masks import positions_of, union
from kb.engine.slots import INDEX
from kb.rules.clauses import Clause, Facts, Ref, Scene, look_up, role_of
from kb.rules.roles import SLOT_ROLES
from kb.rules.rule import Rule

#: A job's scene for a value of the number that moves.
SceneOf = Callable[[float], Scene]
#: For each slot the options, as masks, that are left by the rules that say the same of two scenes.
LeftBetween = Callable[[Scene, Scene], Sequence[int]]
HALVINGS = 60
DIGITS = 4


def breakpoints(
    rules: Iterable[Rule],
    domains: Sequence[Domain],
    left: LeftBetween,
    scene_of: SceneOf,
    start: float,
    end: float,
    grave: Container[str] = (),
) -> dict[float, set[str]]:
    """Give where the answer of a rule that can close anything may change between `start` and `end`, nearest first.

    So may that of a caution of a level that is counted as `grave`. With each value come the ids of the rules. Limits
    of an item that is not `left`, however far the number is moved, turn nothing.
    `start` itself is left out: it is where the search for something better begins; `end` is not.
    """
    scene_of = cache(scene_of)  # halving begins with the same few values for every rule
    first, last = scene_of(start), scene_of(end)
    masks = left(first, last)
    moved = frozenset(
        f"{role}.{name}" for role, facts in first.items() for name in facts or () if _differs(role, name, first, last)
    )
    numbers = {
        f"{role}.{name}"
        for role, facts in first.items()
        for name, value in (facts or {}).items()
        if value == start and (last[role] or {}).get(name) == end
    }

    @cache
    def number_alone(value: float) -> Scene:
        """Give the scene in which the number alone is moved, for who reads nothing else that moves: far sooner."""
        return {
            role: facts and {name: value if f"{role}.{name}" in numbers else one for name, one in facts.items()}
            for role, facts in first.items()
        }

    still = {
        role: facts and {name: value for name, value in facts.items() if f"{role}.{name}" not in moved}
        for role, facts in first.items()
    }
    found: dict[float, set[str]] = {end: set()}
    for rule in rules:
        closes = rule.verdict == "block" or rule.needs or rule.omits or rule.level in grave
        if not closes and not rule.step_min and not rule.wait_before:  # minutes close a chain that has a time limit
            continue
        # What holds or fails whatever the number does, and a rule that such a condition silences, changes nothing.
        settled = [condition.truth(still) for condition in rule.when]
        if False in settled:
            continue
        open_ = [condition for condition, truth in zip(rule.when, settled, strict=True) if truth is None]
        for clause in (c for condition in (*open_, *rule.needs) for c in condition.clauses):
            if read := moved.intersection(clause.facts()):
                at = number_alone if numbers.issuperset(read) else scene_of
                for value in _Moved(rule, clause, domains, masks, at, moved).values(start, end):
                    if value != start and min(start, end) <= value <= max(start, end):
                        found.setdefault(value, set()).add(rule.id)
    return dict(sorted(found.items(), key=lambda pair: abs(pair[0] - start)))


def inside(start: float, end: float) -> float:
    """Find a number between the two, neither of them: as near to `start` as it can be with few digits.

    >>> inside(85, 22), inside(1, 0.5), inside(10, 9.99), inside(1e6, 1)
    (84.0, 0.9, 9.995, 990000.0)
    """
    step = 10.0 ** max(0, math.floor(math.log10(abs(start) or 1)) - 2)
    for _ in range(3):
        value = start + math.copysign(step, end - start)
        if min(start, end) < value < max(start, end):
            return round(value, 6)
        step /= 10
    return round((start + end) / 2, 9)


def _differs(role: str, name: str, one: Scene, other: Scene) -> bool:
    return (one[role] or {}).get(name) != (other[role] or {}).get(name)


class _Moved:
    """One clause of a rule that reads what moves."""

    def __init__(
        self,
        rule: Rule,
        clause: Clause,
        domains: Sequence[Domain],
        left: Sequence[int],
        scene_of: SceneOf,
        moved: frozenset[str],
    ) -> None:
        self.rule, self.clause, self.domains, self.left = rule, clause, domains, left
        self.scene_of, self.moved = scene_of, moved

    def values(self, start: float, end: float) -> Iterator[float]:
        """Give the values of the number at which the clause's truth may change."""
        clause = self.clause
        if not isinstance(clause.fact, str):
            yield from self._calculated(start, end)
        elif isinstance(clause.value, Ref):
            if clause.fact in self.moved:
                yield from (value + clause.value.plus for value in self._numbers(clause.value.fact, start))
            else:
                yield from (value - clause.value.plus for value in self._numbers(clause.fact, start))
        elif isinstance(clause.value, (int, float)) and not isinstance(clause.value, bool):
            yield float(clause.value)

    def _numbers(self, path: str, start: float) -> Iterator[float]:
        """Give every value that a fact can have: the job's own, or that of each item that may stand there."""
        role, _, name = path.partition(".")
        if role in SLOT_ROLES:
            values = {(option.facts(role) or {}).get(name) for option in self._options(role)}
        else:
            values = {look_up(path, self.scene_of(start))}
        yield from (float(v) for v in values if isinstance(v, (int, float)) and not isinstance(v, bool))

    def _options(self, role: str) -> Iterator[Option]:
        """Give the options that may stand in `role`, for which no other condition of the rule fails already."""
        others = [c for c in self.rule.when if c is not self.clause and c.roles() == {role}]
        slots = [INDEX[slot] for slot in SLOT_ROLES[role]]
        options = self.domains[slots[0]].options
        for option in (options[place] for place in positions_of(union(self.left[slot] for slot in slots) & ~EMPTY)):
            if all(condition.truth({role: option.facts(role)}) is not False for condition in others):
                yield option

    def _calculated(self, start: float, end: float) -> Iterator[float]:
        """Find where the calculation's result passes its limit: by halving, for each set of inputs that items give."""
        roles = sorted({role_of(path) for path in self.clause.facts()} & set(SLOT_ROLES))
        if len({SLOT_ROLES[role] for role in roles}) > 1:
            raise ValueError(f"{self.rule.id}: a calculation on the job and two slots")
        names = [path.partition(".")[2] for path in self.clause.facts() if role_of(path) in roles]
        tried: set[tuple[object, ...]] = set()
        for option in self._options(roles[0]) if roles else (Option(None),):
            facts: dict[str, Facts | None] = {role: option.facts(role) for role in roles}
            inputs = tuple((facts[role] or {}).get(name) for role in roles for name in names)
            if inputs not in tried:
                tried.add(inputs)
                yield from self._crossing(facts, start, end)

    def _crossing(self, facts: Scene, start: float, end: float) -> Iterator[float]:
        def truth(value: float) -> bool | None:
            return self.clause.truth({**self.scene_of(value), **facts})

        near, far = start, end
        before, after = truth(near), truth(far)
        if before is after:
            return
        for _ in range(HALVINGS):
            first = outward(math.nextafter(near, end), end)
            if first == outward(far, end):  # so is all that lies between them
                break
            middle = (near + far) / 2
            # Limits are often round numbers, to which halving alone would come ever nearer.
            if abs(middle - near) < abs(first - near) < abs(far - near):
                middle = first
            near, far = (middle, far) if truth(middle) is before else (near, middle)
        yield outward(far, end)


def outward(value: float, end: float) -> float:
    """Round to few digits, on the side of `end`.

    >>> outward(1234.5, 2000), outward(0.012378, 0)
    (1235.0, 0.01237)
    """
    step = 10.0 ** (math.floor(math.log10(abs(value) or 1)) - DIGITS + 1)
    return round((math.ceil if end > value else math.floor)(value / step) * step, 10)
