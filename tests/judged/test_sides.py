"""The best chain of either side, what it costs level by level, and whether that agrees with the judgement."""

from __future__ import annotations

import datetime
from typing import Any

import pytest

from kb.base.errors import BadInput
from kb.engine.chain import prices_of
from kb.engine.plan import Engine
from kb.judged import Comparison, Side, hold
from kb.judged.sides import masks_of, screened_for

JOB: dict[str, Any] = {
    "part": {"substrate": "carbon-steel"},
    "service": {"temperature_c": [15, 35], "duration_days": 1, "exposures": ["dry-air"]},
}


def comparison(better: dict[str, Any], worse: dict[str, Any], **more: Any) -> Comparison:
    day = datetime.date(2026, 11, 28)
    sides = {"better": Side(**better), "worse": Side(**worse)}
    return Comparison(id="c", why="w", basis="common-practice", added=day, job=JOB, **sides, **more)


COLD = {"adhesive": "cyanoacrylate"}
HOT = {"adhesive": ["epoxy-heat-cure"]}


def test_turned_round_the_lead_is_behind(engine: Engine) -> None:
    one, other = hold(comparison(COLD, HOT), engine, "t"), hold(comparison(HOT, COLD), engine, "t")
    glue = one.better.chain.pick("adhesive").entry
    assert glue is not None
    assert glue.family == "cyanoacrylate"
    assert one.margin == -other.margin == one.worse.chain.cost - one.better.chain.cost
    assert one.kept is not other.kept


def test_prices_add_up_to_the_cost(engine: Engine) -> None:
    """What the search adds up and what each piece costs is the same, for the first chains of a job."""
    screened = screened_for(comparison(COLD, HOT), engine, "t")
    for side in (Side(**COLD), Side(**HOT), Side(coatings=()), Side(coatings=["polyurethane-lacquer"])):
        chain = engine.best(screened, screened.problem.only(masks_of(side, engine, "t")))
        assert chain is not None
        assert sum(price.points for price in prices_of(screened, chain)) == chain.cost


def test_a_side_holds_what_it_names(engine: Engine) -> None:
    screened = screened_for(comparison(COLD, HOT), engine, "t")
    side = Side(
        coatings=["polyurethane-lacquer"],
        treatment="none",
        cure_c=(15.0, 30.0),
        without=["ethyl-cyanoacrylate-low-viscosity"],
    )
    chain = engine.best(screened, screened.problem.only(masks_of(side, engine, "t")))
    assert chain is not None
    assert [coat.family for coat in chain.coatings] == ["polyurethane-lacquer"]
    assert chain.pick("treatment").entry is None
    assert chain.cure["temperature_c"] <= 30
    assert chain.pick("adhesive").id not in side.without


def test_equals_are_kept_within_a_remark(engine: Engine) -> None:
    held = hold(comparison(COLD, HOT, equal=True), engine, "t")
    lead = abs(held.worse.chain.cost - held.better.chain.cost)
    remark = engine.knowledge.tables["ranking"]["levels"]["remark"]
    assert held.margin == remark - lead
    assert held.kept is (lead <= remark)


@pytest.mark.parametrize(
    ("better", "said"),
    [
        ({"adhesive": "cyanoacrilate"}, "did you mean"),
        ({"without": ["no-such-thing"]}, "is no item and no family"),
        ({"cure_c": (500.0, 600.0)}, "no adhesive cures so"),
        ({"adhesive": "cyanoacrylate", "coatings": ["petrolatum", "polyurethane-lacquer"]}, "no chain of this side"),
        (HOT, "both sides have the same best chain"),
    ],
)
def test_what_can_t_be_held_is_one_line(better: dict[str, Any], said: str, engine: Engine) -> None:
    with pytest.raises(BadInput, match=said):
        hold(comparison(better, HOT), engine, "t")
