"""What is told of a job with a few facts changed, from the search that was made, is what a search anew finds."""

from __future__ import annotations

import random

import pytest

from kb.engine.plan import Engine
from kb.engine.rank import milliseconds
from kb.engine.search.k_best import MOST_TRANSITIONS, k_best
from kb.engine.search.problem import Constraint
from kb.engine.settle import RuleConstraint
from kb.engine.varied import CannotTellError, Varied, differences
from kb.rules.clauses import Clause
from kb.rules.rule import Rule
from tests.oracles.jobs import random_job

RULE = Rule("r", "", "block", (), "", "", "", "memory", (), (Clause("part.populated", "is", True),))


def said(zero: int, one: int, cost: int = 0, minutes: float = 0.0, forbids: bool = False) -> RuleConstraint:
    return RuleConstraint(RULE, {0: zero, 1: one}, cost, minutes, forbids)


@pytest.mark.parametrize("seed", [1, 4, 6, 9, 26])
def test_a_search_anew_finds_the_same(seed: int, engine: Engine) -> None:
    job, substrate = random_job(seed, engine.knowledge)
    screened, draw = engine.screened(job, substrate), random.Random(seed)
    problem, varied = screened.problem, Varied(screened, MOST_TRANSITIONS)
    (first,) = k_best(problem, 1).labels
    found = set()
    for _ in range(25):
        changes = []
        for _ in range(draw.randint(1, 4)):
            slots = draw.sample(range(len(first.picks)), draw.randint(1, 2))
            # Most of them are about the first chain, or nothing would ever move it.
            masks = (
                1 << first.picks[slot] if draw.random() < 0.7 else draw.getrandbits(len(screened.domains[slot].options))
                for slot in slots
            )
            sets = {slot: mask for slot, mask in zip(slots, masks, strict=True) if mask}
            cost, minutes = draw.choice((-200, -7, 3, 40, 600)), draw.choice((0.0, 0.0, 30.0, -30.0))
            forbids = draw.random() < 0.2
            changes.append(RuleConstraint(None, sets, 0 if forbids else cost, 0.0 if forbids else minutes, forbids))
        more = (Constraint(c.sets, c.cost, milliseconds(c.minutes), c.forbids) for c in changes if c.sets)
        anew = k_best(problem._replace(constraints=(*problem.constraints, *more)), 1).labels
        told = varied.first([c for c in changes if c.sets])
        assert told == (anew[0].picks if anew else None)
        found.add(told)
    assert len(found) > 2


def test_what_holds_for_more_options_or_fewer_differs_by_these_alone() -> None:
    assert list(differences([([said(0b010, 0b100, 5)], [said(0b110, 0b100, 5)])])) == [said(0b100, 0b100, 5)]
    assert list(differences([([said(0b110, 0b100, 5)], [said(0b010, 0b100, 5)])])) == [said(0b100, 0b100, -5)]
    assert list(differences([((), [said(0b010, 0b100, forbids=True)])])) == [said(0b010, 0b100, forbids=True)]
    other = [said(0b010, 0b010, -3), said(0b100, 0b100, 2)]
    assert list(differences([([said(0b010, 0b100, 5, 2.0)], other)])) == [said(0b010, 0b100, -5, -2.0), *other]
    assert list(differences([(other, other)])) == []


def test_what_lets_through_is_not_told() -> None:
    for old, new in ((0b110, 0b010), (0b110, 0)):
        now = [said(new, 0b100, forbids=True)] if new else []
        with pytest.raises(CannotTellError):
            list(differences([([said(old, 0b100, forbids=True)], now)]))
