"""What isn't known of a material: what most rules hang on comes first, and of its questions the surest."""

from __future__ import annotations

import pytest

from kb.engine.plan import Engine
from kb.job import job_of
from kb.materials.resolve import substrate
from kb.planning.gaps import Gap, gaps

JOB = {"service": {"temperature_c": [-20, 80], "exposures": ["humid-air"], "duration_days": 90}}


@pytest.fixture(scope="module")
def found(engine: Engine) -> tuple[Gap, ...]:
    """The gaps of a plastic of which nothing but its family is known."""
    job = job_of({"part": {"substrate": {"family": "polyamide"}}, **JOB}, "t")
    resolved = substrate(job.part.substrate, engine.knowledge, "t")
    return gaps(engine.plan(job, resolved.entry), resolved)


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
