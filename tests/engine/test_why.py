"""Why an item is in, behind or out: what it lost by is counted from the chains, and each way in is planned again."""

from __future__ import annotations

import json
import random
from collections import Counter
from pathlib import Path

import pytest

from kb.base.errors import BadInput
from kb.engine.goal import Goal
from kb.engine.plan import Engine, Plan
from kb.engine.why import Why, explain, uses
from kb.job import job_of, read_job
from kb.knowledge import Entry
from kb.materials.resolve import substrate
from kb.report.first import points
from kb.report.why import why_json, why_text
from kb.rules.roles import CHAIN_KINDS
from tests.oracles.jobs import random_job

DEMO = Path(__file__).parents[2] / "generic_catalog" / "demo"
SEEDS = range(24)


def planned(engine: Engine, name: str) -> Plan:
    job = read_job(DEMO / name)
    return engine.plan(job, substrate(job.part.substrate, engine.knowledge, "t").entry, top=1)


@pytest.fixture(scope="module")
def answers(engine: Engine) -> list[tuple[Plan, Why]]:
    """Three items of each random job."""
    kinds = set(CHAIN_KINDS)
    items = [entry for entry in engine.knowledge.entries.values() if entry.kind in kinds]
    found = []
    for seed in SEEDS:
        plan = engine.plan(*random_job(seed, engine.knowledge), top=1)
        for item in random.Random(seed).sample(items, 3):
            found.append((plan, explain(engine, plan, item, most_plans=200)))
    return found


def test_all_three_standings_occur(answers: list[tuple[Plan, Why]], engine: Engine) -> None:
    assert {why.standing for _, why in answers} >= {"behind", "out"}
    plan = planned(engine, "1-board.toml")
    assert all(
        explain(engine, plan, option.entry).standing == "in"
        for option in plan.chains[0].picks
        if option.entry is not None
    )


def test_the_standing_agrees_with_the_plan(answers: list[tuple[Plan, Why]]) -> None:
    for plan, why in answers:
        excluded = {entry.id for entry, _ in plan.excluded}
        assert (why.standing == "out") == (why.item.id in excluded)
        assert (why.standing == "in") == (bool(plan.chains) and uses(plan.chains[0], why.item))


def test_what_is_out_has_findings_that_close_it(answers: list[tuple[Plan, Why]]) -> None:
    for _, why in answers:
        if why.standing == "out":
            assert why.findings
            assert all(finding.closes for finding in why.findings)


def test_what_is_behind_lost_by_the_difference_of_the_points(answers: list[tuple[Plan, Why]]) -> None:
    behind = [why for _, why in answers if why.standing == "behind"]
    assert len(behind) > 10
    for why in behind:
        assert why.first is not None
        assert why.other is not None
        assert uses(why.other, why.item)
        assert not uses(why.first, why.item)
        lost = sum(gap.points[1] - gap.points[0] for gap in why.gaps)
        assert lost == why.other.cost - why.first.cost >= 0


def test_the_chain_with_it_is_the_first_that_uses_it(engine: Engine) -> None:
    """Against the plan itself: the first of four hundred chains that uses the item has the same cost."""
    plan = planned(engine, "1-board.toml")
    many = engine.plan(plan.job, plan.substrate, top=400).chains
    seen: set[str] = set()
    for chain in many:
        for option in chain.picks:
            if option.entry is not None and option.id not in seen:
                seen.add(option.id)
                best = Goal(engine, plan.substrate, option.entry).best(plan.job).chain
                assert best is not None
                assert best.cost == chain.cost, option.id
    assert len(seen) > 20


def test_the_chain_without_it_is_the_first_that_does_not_use_it(engine: Engine) -> None:
    plan = planned(engine, "1-board.toml")
    many = engine.plan(plan.job, plan.substrate, top=400).chains
    found = 0
    for option in plan.chains[0].picks:
        if option.entry is None:
            continue
        item: Entry = option.entry
        first = next((chain for chain in many if not uses(chain, item)), None)
        best = Goal(engine, plan.substrate, item).best_without(plan.job).chain
        if first is not None:
            found += 1
            assert best is not None
            assert best.cost == first.cost, item.id
    assert found > 3


def test_a_search_that_was_stopped_says_so(engine: Engine) -> None:
    """Within a limit that is much too tight no item is said to be out that isn't, and what is open is said."""
    tight = Engine(engine.knowledge, most_transitions=20)
    met: Counter[str] = Counter()
    for seed in range(40):
        job, part = random_job(seed, engine.knowledge)
        plan = tight.plan(job, part, top=1)
        excluded = {entry.id for entry, _ in engine.plan(job, part, top=1).excluded}
        for item in random.Random(seed).sample(engine.knowledge.by_kind["adhesive"], 4):
            why = explain(tight, plan, item, most_plans=0)
            goal = Goal(engine, part, item)
            exact = goal.best_without(job) if why.standing == "in" else goal.best(job)
            assert exact.bound is None
            assert why.standing != "out" or item.id in excluded
            if why.bound is None:
                met["proven"] += 1
                continue
            met["open"] += 1
            reached = [why.bound, *([why.other.cost] if why.other else [])]
            assert exact.chain is None or exact.chain.cost >= min(reached)
            assert f"that it missed costs {points(why.bound)} or more." in why_json(why)["message"]
    assert met["open"] > 3
    assert met["proven"] > 3


def test_each_way_in_lets_it_in(answers: list[tuple[Plan, Why]], engine: Engine) -> None:
    ways = 0
    for plan, why in answers:
        for relaxation in why.way_in.relaxations if why.way_in else ():
            ways += 1
            assert uses(relaxation.gives, why.item)
            again = engine.plan(relaxation.job, plan.substrate, top=1)
            assert why.item.id not in {entry.id for entry, _ in again.excluded}
    assert ways > 10


def test_each_way_in_is_needed_whole(answers: list[tuple[Plan, Why]], engine: Engine) -> None:
    """None of its changes can be left out: without any one of them the item is still refused."""
    for plan, why in answers:
        goal = Goal(engine, plan.substrate, why.item)
        for relaxation in why.way_in.relaxations if why.way_in else ():
            for field, old, _, _ in relaxation.changes:
                data = {
                    table: {name: value for name, value in fields.items() if value is not None}
                    for table, fields in relaxation.job.model_dump(mode="json").items()
                }
                put_back(data, field, old)
                if data["service"]["temperature_c"] == sorted(data["service"]["temperature_c"]):
                    assert not goal.possible(job_of(data, "t")), (why.item.id, field)


def put_back(data: dict[str, dict[str, object]], field: str, value: object) -> None:
    table, _, name = field.partition(".")
    if name.endswith("]"):
        span = data[table][name[:-3]]
        assert isinstance(span, list)
        span[int(name[-2])] = value
    elif name.startswith("peak."):
        peak = data[table].setdefault("peak", {})
        assert isinstance(peak, dict)
        peak[name.removeprefix("peak.")] = value
    elif value is not None:
        data[table][name] = value
    else:
        data[table].pop(name, None)


def test_a_material_is_no_part_of_a_chain(engine: Engine) -> None:
    plan = planned(engine, "1-board.toml")
    with pytest.raises(BadInput, match="no part of a chain"):
        explain(engine, plan, engine.knowledge.entry("brass-c26000"))


def test_the_document_says_what_the_text_says(engine: Engine) -> None:
    plan = planned(engine, "1-board.toml")
    for name in ("acetone", "butyl-mastic-tape", "ethyl-cyanoacrylate-low-viscosity"):
        why = explain(engine, plan, engine.knowledge.entry(name))
        document = json.loads(json.dumps(why_json(why)))
        assert document["schema"] == "tackroom.explain/1"
        assert document["standing"] == why.standing
        assert all(finding["seen"] for finding in document["findings"])
        text = why_text(why)
        assert max(map(len, text.splitlines())) <= 100
        for finding in document["findings"]:
            assert f"[{finding['rule']};" in " ".join(text.split())
