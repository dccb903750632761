"""Steps: in order of stages, each item used, waits by the clock, and what rules ask for in its place."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from kb.base.vocabulary import STAGES
from kb.engine.chain import Chain
from kb.engine.plan import Engine, Plan
from kb.job import job_of, read_job
from kb.materials.resolve import substrate
from kb.planning.demo import jobs
from kb.planning.procedure import Step, procedure


def planned(engine: Engine, name: str) -> tuple[Plan, Chain]:
    job = read_job(jobs()[name])
    plan = engine.plan(job, substrate(job.part.substrate, engine.knowledge, name).entry)
    return plan, plan.chains[0]


@pytest.fixture(params=list(jobs()))
def demo(request: pytest.FixtureRequest, engine: Engine) -> tuple[Plan, Chain]:
    return planned(engine, request.param)


def test_steps_are_in_order_of_stages(demo: tuple[Plan, Chain]) -> None:
    order = [STAGES.index(step.stage) for step in procedure(*demo)]
    assert order == sorted(order)
    assert STAGES.index("verify") in order


def test_every_item_of_the_chain_is_used(demo: tuple[Plan, Chain]) -> None:
    _, chain = demo
    used = {step.item for step in procedure(*demo)}
    assert {option.id for option in chain.picks if option.entry} <= used


def test_no_hole_is_left_in_a_sentence(demo: tuple[Plan, Chain]) -> None:
    for step in procedure(*demo):
        for line in (step.do, step.wait_for, *step.must, *step.never):
            assert "{" not in line
            assert "(not known)" not in line


def test_no_step_is_said_twice(demo: tuple[Plan, Chain]) -> None:
    said = [(step.stage, step.item, step.do) for step in procedure(*demo)]
    assert len(said) == len(set(said))


def first(steps: list[Step], words: str) -> int:
    return next(i for i, step in enumerate(steps) if words in step.do)


def test_a_hot_cure_is_heated_and_cooled_by_the_clock(engine: Engine) -> None:
    """Common practice, no source: at 2 degC a minute each way, under pressure until it is cool."""
    job = job_of(
        {"part": {"substrate": "copper"}, "service": {"temperature_c": [20, 90], "duration_days": 90}}, "busbar"
    )
    plan = engine.plan(job, engine.knowledge.entries["copper-c11000"], 1)
    cure = plan.chains[0].cure
    waits = [
        (step.wait_for, step.wait_s / 60, step.heat_c, step.pressed)
        for step in procedure(plan, plan.chains[0])
        if step.stage == "cure" and step.wait_s
    ]
    hot, post = cure["temperature_c"], cure["post_cure_c"]
    assert waits == [
        ("heating up", (hot - 20) / 2, hot, True),
        (f"cure at {hot:g} degC", cure["duration_min"], hot, True),
        ("cooling", (hot - 20) / 2, hot, True),
        ("heating up", (post - 20) / 2, post, False),
        ("post-cure", cure["post_cure_min"], post, False),
        ("cooling", (post - 20) / 2, post, False),
    ]


def test_the_clock_of_a_cyanoacrylate_bond(engine: Engine) -> None:
    """Common practice, no source: 60 s of air, 60 s of thumb, then two to five minutes under the tape."""
    steps = procedure(*planned(engine, "board"))
    waits = [steps[first(steps, words)].wait_s for words in ("nothing more runs off it", "One drop", "Leave it alone")]
    assert waits[:2] == [60, 60]
    assert 120 <= waits[2] <= 300


def test_what_comes_before_the_coat_stands_before_it(engine: Engine) -> None:
    steps = procedure(*planned(engine, "board"))
    assert (
        first(steps, "Wipe the bloom off") < first(steps, "Wait 20 min") < first(steps, "Put on polyurethane lacquer")
    )


def test_zero_return_has_a_limit(demo: tuple[Plan, Chain]) -> None:
    limits = {step.limit["quantity"]: step.limit for step in procedure(*demo) if step.limit}
    assert limits["zero_return_ue"]["at_most"] == 2.0
    plan, _ = demo
    assert ("insulation_megaohm" in limits) == bool(plan.substrate.facts["conductive"])


SCENARIOS = sorted((Path(__file__).parents[1] / "scenarios").glob("*.toml"))
PUTS_ON = ("Put on", "Melt", "Have", "Lay", "Slide", "Set")


@pytest.mark.parametrize("path", SCENARIOS, ids=[p.stem for p in SCENARIOS])
def test_protection_can_be_done_in_the_order_that_is_said(path: Path, engine: Engine) -> None:
    """A coat is put on once and proved last, nothing of a lower coat comes after a higher one, the cable is first."""
    job = job_of(tomllib.loads(path.read_text())["task"], "t")
    plan = engine.plan(job, substrate(job.part.substrate, engine.knowledge, "t").entry, 1)
    for chain in plan.chains:
        steps = procedure(plan, chain)
        protect = [step for step in steps if step.stage == "protect"]
        slots = [step.coat for step in protect if step.coat]
        assert slots == sorted(slots), "a lower coat after a higher one"
        first = next((i for i, step in enumerate(protect) if step.coat), len(protect))
        assert all(step.coat for step in protect[first : first + len(slots)]), "something else between the coats"
        for slot, coat in zip(("coating_1", "coating_2", "coating_3"), chain.coatings, strict=False):
            of_coat = [step for step in protect if step.coat == slot]
            assert sum(step.do.startswith(PUTS_ON) and step.item == coat.id and not step.rule for step in of_coat) == 1
            assert not any(step.proves for step in of_coat[:-1]), "measured before the coat is finished"
        if chain.coatings and plan.screened.scene["substrate"]["conductive"]:  # type: ignore[index]
            before = [step.do for step in steps if step.stage == "connect"]
            assert "before any coat" in before[-1], "the figure that each coat is held against comes first"
        places = {step.rule: number for number, step in enumerate(protect) if step.rule}
        if chain.coatings and "immersion-seal-the-cable" in places:
            assert places["immersion-seal-the-cable"] < first


OVER_ANOTHER = [
    (["silicone-neutral-cure-alkoxy"], 4320),
    (["silicone-neutral-cure-alkoxy", "silicone-neutral-cure-alkoxy-paste"], 1440),
    (["silicone-neutral-cure-alkoxy", "fluorosilicone-moisture-cure"], 4320),
]


@pytest.mark.parametrize(("coats", "minutes"), OVER_ANOTHER, ids=lambda value: str(value))
def test_a_coat_waits_for_its_own_kind_until_it_may_be_coated_again(
    coats: list[str], minutes: float, engine: Engine
) -> None:
    """Two layers of a slow silicone are laid a day apart, and no cure is waited for twice."""
    service = {"temperature_c": [15, 35], "duration_days": 200, "exposures": ["outdoor-weather"]}
    job = job_of({"part": {"substrate": "carbon-steel"}, "service": service, "choose": {"coatings": coats}}, "t")
    plan = engine.plan(job, substrate("carbon-steel", engine.knowledge, "t").entry)
    chain = plan.chains[0]
    assert [coat.id for coat in chain.coatings] == coats
    waits = [step.wait_s / 60 for step in procedure(plan, chain) if step.coat == "coating_1" and step.wait_s]
    assert minutes in waits
    assert not {1440, 4320} - {minutes} & {*waits}
