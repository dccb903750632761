"""What rules say otherwise leaves the first chain first only where it meets not that chain, and spares no other."""

from __future__ import annotations

from kb.engine.settle import RuleConstraint
from kb.engine.turning import leaves_first
from kb.rules.clauses import Clause
from kb.rules.rule import Rule

RULE = Rule("r", "", "block", (), "", "", "", "memory", (), (Clause("part.populated", "is", True),))
#: The first chain: option 1 in both slots.
FIRST = {0: 0b010, 1: 0b010}


def said(zero: int, one: int, cost: int = 0, minutes: float = 0.0, forbids: bool = False) -> RuleConstraint:
    return RuleConstraint(RULE, {0: zero, 1: one}, cost, minutes, forbids)


def test_what_forbids_others_leaves_the_first_first() -> None:
    assert leaves_first([((), [said(0b010, 0b100, forbids=True)])], FIRST)
    assert leaves_first([([said(0b010, 0b100, forbids=True)], [said(0b110, 0b100, forbids=True)])], FIRST)


def test_what_meets_the_first_chain_may_not() -> None:
    assert not leaves_first([((), [said(0b010, 0b110, forbids=True)])], FIRST)
    assert not leaves_first([((), [said(0b010, 0b110, cost=5)])], FIRST)
    assert not leaves_first([((), [said(0b010, 0b110, minutes=5.0)])], FIRST)


def test_what_lets_others_through_or_makes_them_cheaper_may_not() -> None:
    assert not leaves_first([([said(0b100, 0b100, forbids=True)], ())], FIRST)
    assert not leaves_first([([said(0b110, 0b100, cost=5)], [said(0b100, 0b100, cost=5)])], FIRST)
    assert not leaves_first([((), [said(0b100, 0b100, cost=-5)])], FIRST)
    assert not leaves_first([([said(0b100, 0b100, cost=5)], [said(0b100, 0b100, cost=4)])], FIRST)


def test_a_preference_for_others_that_is_lost_leaves_the_first_first() -> None:
    assert leaves_first([([said(0b100, 0b100, cost=-5)], ())], FIRST)
    assert leaves_first([([said(0b110, 0b100, cost=-5)], [said(0b100, 0b100, cost=-5)])], FIRST)
