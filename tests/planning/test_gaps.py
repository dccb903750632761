"""What isn't known of a material: what most rules hang on comes first, and of its questions the surest."""

from __future__ import annotations

import pytest

from kb.engine.plan import Engine, Plan
from kb.job import job_of
from kb.materials.resolve import Resolved, substrate
from kb.planning.gaps import Gap, gaps, hangs
from kb.rules.clauses import AnyOf, Condition
from kb.rules.job_facts import FROM_SUBSTRATE
from kb.rules.roles import SLOT_ROLES, SLOTS

JOB = {"service": {"temperature_c": [-20, 80], "exposures": ["humid-air"], "duration_days": 90}}


@pytest.fixture(scope="module")
def planned(engine: Engine) -> tuple[Plan, Resolved]:
    """A job on a plastic of which nothing but its family is known."""
    job = job_of({"part": {"substrate": {"family": "polyamide"}}, **JOB}, "t")
    resolved = substrate(job.part.substrate, engine.knowledge, "t")
    return engine.plan(job, resolved.entry), resolved


@pytest.fixture(scope="module")
def found(planned: tuple[Plan, Resolved]) -> tuple[Gap, ...]:
    return gaps(*planned)


def test_what_most_rules_hang_on_comes_first(found: tuple[Gap, ...]) -> None:
    numbers = [len(gap.rules) for gap in found]
    assert numbers == sorted(numbers, reverse=True)
    assert numbers[0] > numbers[-1] > 0


def test_a_question_that_surely_tells_the_fact_comes_before_one_that_may(found: tuple[Gap, ...]) -> None:
    several = [gap for gap in found if len(gap.questions) > 1]
    assert several
    for gap in several:
        shares = [
            1.0
            if gap.fact in (q.number, q.choice) or not q.answers
            else sum(gap.fact in answer.sets for answer in q.answers) / len(q.answers)
            for q in gap.questions
        ]
        assert shares == sorted(shares, reverse=True)
        for (first, before), (second, after) in zip(
            zip(shares, gap.questions, strict=True), list(zip(shares, gap.questions, strict=True))[1:], strict=False
        ):
            assert first > second or len(before.facts) <= len(after.facts)


def undecided(condition: Condition, plan: Plan) -> bool:
    """Whether a condition can't be told of the job, or of any option that is still open: each of them is tried."""
    screened = plan.screened
    roles = condition.roles() & set(SLOT_ROLES)
    if len({SLOT_ROLES[role] for role in roles}) > 1 or (roles and isinstance(condition, AnyOf)):
        return True  # of two slots, or of a group, it is taken to hang
    if not roles:
        return condition.truth(screened.scene) is None
    names = list(SLOTS)
    return any(
        condition.truth({**screened.scene, **{role: option.facts(role) for role in roles}}) is None
        for slot in {slot for role in roles for slot in SLOT_ROLES[role]}
        for place, option in enumerate(screened.domains[names.index(slot)].options)
        if screened.remaining[names.index(slot)] >> place & 1
    )


def test_what_hangs_on_a_fact_is_what_reads_it_and_can_not_be_told(planned: tuple[Plan, Resolved]) -> None:
    """Against trying every option of every condition."""
    plan, resolved = planned
    scene = plan.screened.scene
    expected: dict[str, list[str]] = {}
    for name in resolved.missing:
        paths = {f"substrate.{name}", FROM_SUBSTRATE.get(name, "")}
        for rule in plan.screened.rules:
            for condition in (*rule.when, *rule.needs):
                given = {f"{role}.{field}" for role, facts in scene.items() for field in facts or ()}
                tables = {".".join(path.split(".")[:2]) for path in condition.facts() if path not in given}
                reads = tables | {path for path in condition.facts() if path not in given}
                if reads & paths and undecided(condition, plan) and rule.id not in expected.setdefault(name, []):
                    expected[name].append(rule.id)
    hanging = hangs(plan.screened, resolved.missing)
    assert {name: [rule.id for rule in rules] for name, rules in hanging.items()} == {
        name: rules for name, rules in expected.items() if rules
    }
    assert "max_temperature_c" in hanging
    assert any(path.startswith("part.") for rule in hanging["max_temperature_c"] for path in rule.facts())
