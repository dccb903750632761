"""The sentence on what put the first chain before the second is right, whatever counts more."""

from __future__ import annotations

import re
from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import pytest

from kb.engine.plan import Engine, Plan
from kb.report.first import how_sure, why_first
from tests.oracles.jobs import random_job

PREFERS = {"time": "time to ready", "headroom": "temperature headroom", "few-hazards": "hazards", "few-steps": "steps"}
AHEAD = re.compile(
    r"It is ahead of the next by (?P<gap>\d+) points?, (?P<mostly>mostly )?through (?P<told>.*?)"
    r"(, though it is behind in (?P<lost>[a-z ]+) \((?P<less>\d+) points?\)(?P<more> and others)?)?\."
)
TOLD = re.compile(r"([a-z][a-z ]+) \((.+?): (\d+) points?(, for they count 10 times as preferred)?\)")
#: Points are whole for each member of a chain: ten times as many may differ by so much.
ROUNDED = 120
EQUAL = re.compile(r"It costs as much as the next; between equals the earlier in the catalog: (.+)\.")


def planned(engine: Engine, seed: int, prefer: str | None, top: int = 120) -> Plan:
    return engine.plan(*random_job(seed, engine.knowledge), top, prefer)


def pairs(plan: Plan) -> list[Plan]:
    """The first chain against one chain of each other cost, as if that were the next."""
    by_cost = {chain.cost: chain for chain in plan.chains[:0:-1]}
    return [replace(plan, chains=(plan.chains[0], other)) for other in by_cost.values()]


@pytest.mark.parametrize("prefer", [None, *PREFERS])
def test_it_names_the_gap_and_what_made_it(prefer: str | None, engine: Engine) -> None:
    compared = 0
    for plan in (pair for seed in range(12) for pair in pairs(planned(engine, seed, prefer))):
        first, second = plan.chains
        if first.cost == second.cost:
            continue
        said = AHEAD.fullmatch(why_first(plan))
        assert said, why_first(plan)
        compared += 1
        assert int(said["gap"]) == second.cost - first.cost
        gains = {a.criterion: b.points - a.points for a, b in zip(first.score, second.score, strict=True)}
        told = {name.removeprefix("and "): (values, int(n), by) for name, values, n, by in TOLD.findall(said["told"])}
        ahead = sorted((n for n in gains.values() if n > 0), reverse=True)
        assert [n for _, n, _ in told.values()] == ahead[:2]
        assert all(gains[name] == n for name, (_, n, _) in told.items())
        assert bool(said["mostly"]) == (len(ahead) > 2)
        behind = sorted(n for n in gains.values() if n < 0)
        assert (said["lost"] is None) == (not behind)
        if behind:
            assert gains[said["lost"]] == behind[0] == -int(said["less"])
            assert bool(said["more"]) == (len(behind) > 1)
        for name, (values, _, by) in told.items():
            assert bool(by) == (prefer is not None and name == PREFERS[prefer])
            if name in ("hazards", "cautions", "needs", "steps", "unknowns") and values != "all together":
                fewer, more = (int(word.split()[0]) for word in values.split(" against "))
                assert fewer < more
    assert compared > 20


@pytest.mark.parametrize("prefer", PREFERS)
def test_what_is_preferred_is_named(prefer: str, engine: Engine) -> None:
    plan = planned(engine, 0, prefer, top=1)
    (first,) = plan.chains
    worse = [
        s._replace(points=s.points + 30, value=s.value - 1 if prefer == "headroom" else s.value + 600)
        if s.criterion == PREFERS[prefer] else s
        for s in first.score
    ]  # fmt: skip
    second = replace(first, score=tuple(worse), cost=first.cost + 30)
    said = why_first(replace(plan, chains=(first, second), top=2))
    assert said.startswith(f"It is ahead of the next by 30 points, through {PREFERS[prefer]} (")
    assert said.endswith(": 30 points, for they count 10 times as preferred).")
    assert " against " in said


def test_between_equals_it_names_the_first_slot_in_which_they_differ(engine: Engine) -> None:
    place = {entry.id: number for number, entry in enumerate(engine.knowledge.entries.values(), start=1)}
    ties = 0
    for seed in range(40):
        plan = planned(engine, seed, None, top=2)
        if len(plan.chains) == 2 and plan.chains[0].cost == plan.chains[1].cost:
            ties += 1
            one, other = next((a, b) for a, b in zip(*(c.picks for c in plan.chains), strict=True) if a != b)
            said = EQUAL.fullmatch(why_first(plan))
            assert said, why_first(plan)
            if one.id == other.id:
                assert one.cure
                assert f"the cure {one.cure['id']} before" in said[1]
                continue
            assert place.get(one.id, 0) < place.get(other.id, 0)
            names = [option.entry.name if option.entry else "nothing" for option in (one, other)]
            assert said[1] == " before ".join(names)
    assert ties > 10


@pytest.mark.parametrize("prefer", PREFERS)
def test_the_first_is_no_worse_in_what_is_preferred_and_no_better_in_all(prefer: str, engine: Engine) -> None:
    changed = 0
    for seed in range(60):
        plain, other = (planned(engine, seed, word, top=1) for word in (None, prefer))
        if plain.chains:
            before, after = plain.chains[0], other.chains[0]
            one, ten = (next(s.points for s in c.score if s.criterion == PREFERS[prefer]) for c in (before, after))
            assert ten <= 10 * one + ROUNDED
            assert after.cost - 0.9 * ten >= before.cost - ROUNDED / 10
            changed += before.picks != after.picks
    assert changed >= 3  # so many of the jobs, at the least, that the preference was put to the test


def test_one_chain_alone(engine: Engine) -> None:
    one = planned(engine, 0, None, top=1)
    assert why_first(one) == "No chain has fewer points."
    assert why_first(replace(one, top=2)) == "It is the only chain that the rules leave."
    assert why_first(replace(one, top=2, bound=1)) == "It is the best that was found."
    assert why_first(replace(one, supplied=1)) == "It is the best that the shelf can supply."


def test_the_shelf_is_named_where_it_decided_and_only_there(engine: Engine) -> None:
    pair = (p for seed in range(8) for p in pairs(planned(engine, seed, None)))
    plan = next(p for p in pair if p.chains[0].cost < p.chains[1].cost)
    cheap, dear = plan.chains
    swapped = replace(plan, chains=(dear, cheap))
    less = dear.cost - cheap.cost
    said = f"The shelf can supply it, and not the next, which costs {less} point{'s' * (less != 1)} less."
    assert why_first(replace(swapped, supplied=1)) == said
    for supplied in (1, 2):
        assert why_first(replace(plan, supplied=supplied)) == why_first(plan)
    alike = replace(plan, chains=(cheap, replace(dear, cost=cheap.cost)))
    assert why_first(replace(alike, supplied=1)).endswith("and not the next, which costs as much.")
    assert EQUAL.fullmatch(why_first(replace(alike, supplied=2)))


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


@pytest.mark.parametrize(
    ("known", "said"),
    [
        ({"supplied": 1}, "It is the best that the shelf can supply."),
        ({"bound": 9}, "It is the best that was found."),
        ({"top": 1}, "No chain has fewer points."),
        ({}, "It is the only chain that the rules leave."),
    ],
)
def test_a_chain_alone(known: dict[str, Any], said: str) -> None:
    assert why_first(told_of(costs=(5,), **known)) == said
