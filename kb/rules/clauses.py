"""Evaluate a rule's conditions in three values.

A clause compares a fact with a literal, another fact or the result of a named calculation. It is True,
False, or None where a fact that it needs is unknown. A scene says what each role stands for; a role that
is bound to None is absent (an empty slot), and every clause on it is False except `present`.

>>> scene = {"adhesive": {"creep": "high"}, "treatment": None}
>>> Clause("adhesive.creep", "is", "high").truth(scene)
True
>>> Clause("adhesive.elongation_pct", "below", 2).truth(scene) is None
True
>>> Clause("treatment.family", "is-not", "plasma").truth(scene), Clause("treatment.present", "is", False).truth(scene)
(False, True)
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any, NamedTuple, TypeAlias

from kb.base.errors import BadInput

if TYPE_CHECKING:
    from kb.calc.spec import Function

#: A fact's value: a number, a word, yes or no, a list of words or tables. Which it is, the models of the catalog say.
Value: TypeAlias = Any
Facts = Mapping[str, Value]
Scene = Mapping[str, Facts | None]
Truth = bool | None


class Missing:
    """Why a fact has no value: the role is empty, or the value isn't known."""

    def __init__(self, word: str) -> None:
        self.word = word

    def __repr__(self) -> str:
        return self.word


ABSENT, UNKNOWN = Missing("absent"), Missing("unknown")


def _overlap(have: Value, wanted: Value) -> bool:
    """Tell whether the list `have` holds `wanted`, or any of them where `wanted` is itself a list."""
    return any(w in have for w in wanted) if isinstance(wanted, (list, tuple)) else wanted in have


OPERATORS: dict[str, Callable[[Value, Value], bool]] = {
    "is": lambda x, y: bool(x == y),
    "is-not": lambda x, y: bool(x != y),
    "one-of": lambda x, y: x in y,
    "none-of": lambda x, y: x not in y,
    "below": lambda x, y: bool(x < y),
    "at-most": lambda x, y: bool(x <= y),
    "above": lambda x, y: bool(x > y),
    "at-least": lambda x, y: bool(x >= y),
    "has": _overlap,
    "lacks": lambda x, y: not _overlap(x, y),
}
NUMERIC = ("below", "at-most", "above", "at-least")


# No tuple, as it stands where a list of values may.
@dataclass(frozen=True, slots=True)
class Ref:
    """Another fact on the right side, moved by `plus` in the fact's own unit."""

    fact: str
    plus: float = 0.0


class Calculation(NamedTuple):
    """A named calculation on the left side: its inputs are literals, fact paths, or tables and lists of them."""

    name: str
    inputs: Mapping[str, Value]
    result: str


class Clause(NamedTuple):
    """`fact op value`, with a fact path `role.field`, or a calculation in the fact's place."""

    fact: str | Calculation
    op: str
    value: Value

    @property
    def clauses(self) -> tuple[Clause, ...]:
        """The clause itself, as `AnyOf` has several."""
        return (self,)

    def facts(self) -> Iterator[str]:
        """List every fact path that is read."""
        if isinstance(self.fact, str):
            yield self.fact
        else:
            yield from _paths(self.fact.inputs)
        if isinstance(self.value, Ref):
            yield self.value.fact

    def roles(self) -> set[str]:
        """List every role that is read."""
        return {role_of(path) for path in self.facts()}

    def truth(self, scene: Scene) -> Truth:
        """Tell whether it holds in `scene`; None where a fact that it needs is unknown."""
        left, right = self.sides(scene)
        if left is ABSENT or right is ABSENT:
            return False
        if left is UNKNOWN or right is UNKNOWN:
            return None
        try:
            return OPERATORS[self.op](left, right)
        except TypeError:
            return False

    def sides(self, scene: Scene) -> tuple[Value, Value]:
        """Give left and right value as they stand in `scene`, each possibly ABSENT or UNKNOWN."""
        left = look_up(self.fact, scene) if isinstance(self.fact, str) else _calculated(self.fact, scene)
        if not isinstance(self.value, Ref):
            return left, self.value
        right = look_up(self.value.fact, scene)
        return left, right + self.value.plus if self.value.plus and not isinstance(right, Missing) else right


class AnyOf(NamedTuple):
    """A group of which at least one clause must hold; one level deep."""

    clauses: tuple[Clause, ...]

    def facts(self) -> Iterator[str]:
        """List every fact path that is read."""
        for clause in self.clauses:
            yield from clause.facts()

    def roles(self) -> set[str]:
        """List every role that is read."""
        return {role for clause in self.clauses for role in clause.roles()}

    def truth(self, scene: Scene) -> Truth:
        """Tell whether any of them holds in `scene`; None where that hangs on a fact that is unknown."""
        return any_of(clause.truth(scene) for clause in self.clauses)


Condition = Clause | AnyOf


def all_of(truths: Iterable[Truth]) -> Truth:
    """Join by Kleene's and: False wins over unknown, unknown over True."""
    unknown = False
    for truth in truths:
        if truth is False:
            return False
        unknown = unknown or truth is None
    return None if unknown else True


def any_of(truths: Iterable[Truth]) -> Truth:
    """Join by Kleene's or: True wins over unknown, unknown over False."""
    unknown = False
    for truth in truths:
        if truth is True:
            return True
        unknown = unknown or truth is None
    return None if unknown else False


def role_of(path: str) -> str:
    """Give the role of a fact path.

    >>> role_of("coating.resists.alkali")
    'coating'
    """
    return path.partition(".")[0]


def look_up(path: str, scene: Scene) -> Value:
    """Look up `role.field` in `scene`: ABSENT for an empty role, UNKNOWN where no value is known."""
    role, _, field = path.partition(".")
    if role not in scene:
        return UNKNOWN
    facts = scene[role]
    if field == "present":
        return facts is not None
    if facts is None:
        return ABSENT
    return facts.get(field, UNKNOWN)


def _paths(inputs: Value) -> Iterator[str]:
    """List every fact path among a calculation's inputs. A string is a path if it has a dot; else it is a word."""
    if isinstance(inputs, str):
        if "." in inputs:
            yield inputs
    elif isinstance(inputs, Mapping):
        for value in inputs.values():
            yield from _paths(value)
    elif isinstance(inputs, (list, tuple)):
        for value in inputs:
            yield from _paths(value)


def filled(inputs: Value, scene: Scene) -> Value:
    """Replace each fact path in `inputs` by its value; Missing as a whole where any of them is missing.

    `{difference = [a, b]}` stands for a minus b.

    >>> filled({"delta_c": {"difference": ["cure.temperature_c", "service.low_c"]}},
    ...        {"cure": {"temperature_c": 120}, "service": {"low_c": -20}})
    {'delta_c': 140}
    """
    if isinstance(inputs, str):
        return look_up(inputs, scene) if "." in inputs else inputs
    if isinstance(inputs, (int, float)):
        return inputs
    if isinstance(inputs, Mapping):
        if len(inputs) == 1 and "difference" in inputs:
            sides = filled(inputs["difference"], scene)
            return sides if isinstance(sides, Missing) else sides[0] - sides[1]
        values = {}
        for key, value in inputs.items():
            values[key] = found = filled(value, scene)
            if isinstance(found, Missing):
                return found
        return values
    if isinstance(inputs, (list, tuple)):
        items = [filled(value, scene) for value in inputs]
        return next((v for v in items if isinstance(v, Missing)), items)
    return inputs


@cache
def _function(name: str) -> Function:
    """Give the function behind a calculation; most rules that calculate are silent in most jobs, and load none."""
    from kb import calc

    return calc.function(name)


def _calculated(calculation: Calculation, scene: Scene) -> Value:
    """Calculate; BadInput where a rule gives a calculation what it doesn't take."""
    try:
        inputs = filled(calculation.inputs, scene)
        if isinstance(inputs, Missing):
            return inputs
        return _function(calculation.name)(**inputs).get(calculation.result, UNKNOWN)
    except (ValueError, ArithmeticError):
        # Outside the calculation's domain there is no result: not known, rather than false.
        return UNKNOWN
    except (TypeError, LookupError, AttributeError):
        given = f"does not take {dict(calculation.inputs)}"
        raise BadInput(f"calc {calculation.name}", given[:200], "see `tackroom calc`") from None
