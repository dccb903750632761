"""Why a chain is first is said in words: what speaks against the next, how firmly, and what would do as well."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import pytest

from kb.engine.plan import Engine, Plan
from kb.planning.alternatives import offered
from kb.planning.ask import Asked, ask
from kb.planning.firmness import firmness, rivals
from kb.report.first import EVEN_SHARE, FIRM_SHARE, bond_words, equals, how_firmly, how_sure, why_first, why_words
from kb.report.others import says
from kb.report.plan_text import plan_text
from tests.oracles.jobs import random_job

PREFERS = {"time": "time to ready", "headroom": "temperature headroom", "few-hazards": "hazards", "few-steps": "steps"}
#: Points are whole for each member of a chain: ten times as many may differ by so much.
ROUNDED = 120


@pytest.fixture(scope="module")
def answers(engine: Engine) -> list[Asked]:
    asked = (ask(engine, random_job(seed, engine.knowledge)[0], "job") for seed in range(40))
    return [one for one in asked if one.plan.chains]


def planned(engine: Engine, seed: int, prefer: str | None, top: int = 120) -> Plan:
    return engine.plan(*random_job(seed, engine.knowledge), top, prefer)


def test_it_names_the_next_that_differs_and_no_points(answers: list[Asked]) -> None:
    for one in answers:
        said = why_words(one.plan, one.others)
        assert "point" not in said
        against = rivals(one.plan, one.others)
        if not against:
            assert said.startswith("Nothing with another kind of adhesive or coat comes near it")
            continue
        first = one.plan.chains[0]
        # A rival of the same bond and coats is named only where there is no other.
        differ = [chain for chain in against if bond_words(chain) != bond_words(first)] or against
        next_one = min(differ, key=lambda chain: chain.cost)
        if next_one.cost > first.cost:
            assert said.startswith(f"Chosen over {bond_words(next_one, first)}: ")


def test_a_tie_between_families_is_told_and_never_broken_by_the_catalog(answers: list[Asked]) -> None:
    ties = 0
    for one in answers:
        first = one.plan.chains[0]
        for rival in rivals(one.plan, one.others):
            if rival.cost == first.cost:
                ties += 1
                assert equals(one.plan, one.others)
                assert not why_first(one.plan, one.others).startswith("Chosen over")
        for chain in one.plan.chains[1:]:
            assert (chain.cost == first.cost) <= bool(equals(one.plan, one.others))
    text = next(plan_text(one.plan, one.resolved, None, one.others) for one in answers if equals(one.plan, one.others))
    assert "Nothing tells it apart from one with" in " ".join(text.split())


def test_how_firmly_is_told_by_what_would_turn_it(answers: list[Asked]) -> None:
    close = firm = 0
    for one in answers:
        found, said = firmness(one.plan, one.others), how_firmly(one.plan, one.others)
        if found is None or not found.share:
            assert not said
        elif abs(found.share) > FIRM_SHARE:
            firm += 1
            assert said.startswith("Firm: ")
        else:
            close += 1
            means = one.plan.knowledge.tables["ranking"]["means"][found.level]
            share = "a little" if abs(found.share) < EVEN_SHARE else f"{abs(found.share):.0%}"
            assert f"'{means}' counts {share} {'more' if found.share > 0 else 'less'}" in said
    assert close
    assert firm


@pytest.mark.parametrize("prefer", PREFERS)
def test_the_first_is_no_worse_in_what_is_preferred_and_no_better_in_all(prefer: str, engine: Engine) -> None:
    changed = 0
    for seed in range(80):
        plain, other = (planned(engine, seed, word, top=1) for word in (None, prefer))
        if plain.chains:
            before, after = plain.chains[0], other.chains[0]
            one, ten = (next(s.points for s in c.score if s.criterion == PREFERS[prefer]) for c in (before, after))
            assert ten <= 10 * one + ROUNDED
            assert after.cost - 0.9 * ten >= before.cost - ROUNDED / 10
            changed += before.picks != after.picks
    assert changed >= 3  # so many of the jobs, at the least, that the preference was put to the test


def told_of(**known: Any) -> Plan:
    """A plan of which only what the sentences look at is there."""
    chains = tuple(SimpleNamespace(cost=cost) for cost in known.pop("costs", ()))
    return cast(
        Plan, SimpleNamespace(**{"bound": None, "proven": len(chains), "supplied": 0, "top": 3, **known}, chains=chains)
    )


STOPPED = "The search was too wide and was stopped at its limit. Any chain that it missed costs 9 points or more; "


@pytest.mark.parametrize(
    ("known", "said"),
    [
        ({"costs": (5,)}, ""),
        ({"bound": 9}, f"{STOPPED}it met none."),
        ({"bound": 9, "costs": (10, 11), "proven": 0},
         f"{STOPPED}the best that it found costs 10. None of those shown is proven to be the best."),
        ({"bound": 9, "costs": (8, 11), "proven": 1},
         f"{STOPPED}the best that it found costs 8. The first is proven to be the best."),
        ({"bound": 9, "costs": (7, 8, 11), "proven": 2},
         f"{STOPPED}the best that it found costs 7. The first 2 are proven to be the best."),
        ({"bound": 9, "costs": (7, 8, 8), "proven": 3},
         f"{STOPPED}the best that it found costs 7. The first 3 are proven to be the best."),
    ],
)  # fmt: skip
def test_how_sure_it_is(known: dict[str, Any], said: str) -> None:
    assert how_sure(told_of(**known)) == said


def test_the_shelf_is_named_where_it_decided() -> None:
    assert why_first(told_of(costs=(5,), supplied=1), ()) == "It is the best that the shelf can supply."
    assert why_first(told_of(costs=(5,)), ()).startswith("Nothing with another kind")
    assert not why_first(told_of(costs=(5,), top=1), ())


def test_of_an_alternative_only_what_differs_is_named_and_what_it_lacks_is_said(answers: list[Asked]) -> None:
    shared = 0
    for one in answers:
        first = one.plan.chains[0]
        for other in offered(one.others):
            named = bond_words(other.chain, first)
            glue = other.chain.pick("adhesive").entry
            if glue is not None and glue == first.pick("adhesive").entry:
                shared += 1
                assert glue.name not in named
            assert says(one.plan, other)
    assert shared > 20
