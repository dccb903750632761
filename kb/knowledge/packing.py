"""Rules and conditions as plain values, for the compiled knowledge, and back."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

from kb.rules.clauses import AnyOf, Calculation, Clause, Condition, Ref
from kb.rules.rule import Rule

#: A condition, or a rule, in plain values.
Packed = tuple[Any, ...]
_WHEN, _NEEDS = Rule._fields.index("when"), Rule._fields.index("needs")


class Conditions(NamedTuple):
    """What a row of a table hangs on, and the roles that this reads."""

    all: tuple[Condition, ...]
    roles: frozenset[str]


def pack_rule(rule: Rule) -> Packed:
    """Take a rule apart into plain values, in the order of its fields."""
    return tuple(
        tuple(pack(c) for c in rule.when) if name == "when"
        else tuple(pack(c) for c in rule.needs) if name == "needs"
        else getattr(rule, name)
        for name in Rule._fields
    )  # fmt: skip


def unpack_rule(packed: Packed) -> Rule:
    """Put together the rule that `pack_rule` took apart."""
    values = list(packed)
    for place in (_WHEN, _NEEDS):
        values[place] = tuple(unpack(c) for c in packed[place])
    return Rule._make(values)


def pack(condition: Condition) -> Packed:
    """Take a condition apart into plain values."""
    if isinstance(condition, AnyOf):
        return ("any", tuple(pack(c) for c in condition.clauses))
    fact, value = condition.fact, condition.value
    return (
        condition.op,
        fact if isinstance(fact, str) else (fact.name, dict(fact.inputs), fact.result),
        ("ref", value.fact, value.plus) if isinstance(value, Ref) else ("is", value),
    )


def unpack(packed: Packed) -> Condition:
    """Put together the condition that `pack` took apart."""
    if packed[0] == "any":
        return AnyOf(tuple(c for inner in packed[1] if isinstance(c := unpack(inner), Clause)))
    op, fact, value = packed
    return Clause(
        fact if isinstance(fact, str) else Calculation(*fact),
        op,
        Ref(value[1], value[2]) if value[0] == "ref" else value[1],
    )


def conditions_of(rows: Iterable[Mapping[str, Any]]) -> tuple[Conditions, ...]:
    """Put together what each row of a table hangs on, in their order."""
    unpacked = (tuple(unpack(packed) for packed in row["when"]) for row in rows)
    return tuple(Conditions(each, frozenset(role for c in each for role in c.roles())) for each in unpacked)
