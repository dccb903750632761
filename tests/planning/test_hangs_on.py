"""What an answer hangs on: past its limit a named fact changes the answer, short of it not, and no other fact does.

Each is planned again the long way, by the whole engine made anew. `python -m tests.planning.test_hangs_on 200` does so
for as many random jobs as are wanted; every run of the tests does for twenty.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Iterator

import pytest

from kb import knowledge as kb_knowledge
from kb.engine.plan import Engine
from kb.job import Job, job_of
from kb.knowledge.changed import with_values
from kb.knowledge.spreads import ends
from kb.planning.ask import Asked, ask
from kb.planning.hangs_on import Hang, looked_at
from kb.report.hanging import hanging_json, hanging_lines, words
from kb.rules.unknowns import asked_words
from kb.rules.values import Told, value_of
from tests.oracles.jobs import random_job

#: Facts that the answer does not hang on, tried for each job: all would take a minute a job.
OTHERS = 3


def _key(asked: Asked) -> object:
    return asked.plan.chains[0].key if asked.plan.chains else None


def _typed(value: object) -> str:
    return str(value) if isinstance(value, str) else repr(value)


def faults(engine: Engine, job: Job, seed: int) -> Iterator[str]:
    """Give every way in which what is said of a job isn't so."""
    asked = ask(engine, job, "a job", 1)
    hangs, rows = asked.hangs_on or [], engine.knowledge.tables["spreads"]
    for hang in hangs:
        moved = ask(engine, job, "a job", 1, settings=[f"{hang.fact}={_typed(hang.changes_at)}"])
        if _key(moved) == _key(asked):
            yield f"{seed}: {hang.fact} at {hang.changes_at} changes nothing"
        if (None if hang.to is None else [o.id for o in hang.to]) != (
            [o.id for o in moved.plan.chains[0].picks] if moved.plan.chains else None
        ):
            yield f"{seed}: {hang.fact} at {hang.changes_at} gives another chain than it says"
        if not isinstance(hang.value, str):
            far = (max if hang.changes_at > hang.value else min)(ends(hang.entry.facts, hang.field, rows))
            moved = ask(engine, job, "a job", 1, settings=[f"{hang.fact}={_typed(far)}"])
            if _key(moved) == _key(asked):
                yield f"{seed}: {hang.fact} changes the answer at {hang.changes_at}, and no longer at {far}"
    named = {(hang.entry.id, hang.field) for hang in hangs}
    rest = [(e, f) for e, fields in looked_at(engine, asked.plan) for f in fields if (e.id, f) not in named]
    for entry, field in random.Random(seed).sample(rest, min(OTHERS, len(rest))):
        for end in ends(entry.facts, field, rows):
            known = with_values(engine.knowledge, {entry.id: [Told(field, end, "supposed")]})
            if _key(ask(Engine(known), job, "a job", 1)) != _key(asked):
                yield f"{seed}: {entry.id}.{field} at {end} changes the answer and is not named"


@pytest.mark.parametrize("seeds", [range(n, n + 5) for n in range(0, 20, 5)], ids=str)
def test_the_engine_made_anew_says_the_same(engine: Engine, seeds: range) -> None:
    found = [fault for seed in seeds for fault in faults(engine, random_job(seed, engine.knowledge)[0], seed)]
    assert found == []


JOB = job_of({"part": {"substrate": "aluminium-6061"}, "service": {"temperature_c": [10, 60]}}, "a job")


@pytest.fixture(scope="module")
def told(engine: Engine) -> list[Hang]:
    found = ask(engine, JOB, "a job", 1).hangs_on
    assert found
    return found


def test_the_nearest_comes_first(told: list[Hang]) -> None:
    assert [hang.nearness for hang in told] == sorted(hang.nearness for hang in told)


def test_a_named_fact_short_of_its_limit_changes_nothing(engine: Engine, told: list[Hang]) -> None:
    before = _key(ask(engine, JOB, "a job", 1))
    for hang in told:
        if isinstance(hang.value, str) or hang.nearness < 0.005:
            continue
        short = (hang.value + hang.changes_at) / 2
        assert _key(ask(engine, JOB, "a job", 1, settings=[f"{hang.fact}={short}"])) == before


def test_it_is_told_in_words_and_for_programs(engine: Engine, told: list[Hang]) -> None:
    plan = ask(engine, JOB, "a job", 1).plan
    lines = list(hanging_lines(plan, told))
    assert lines[0] == "HOLDS UNLESS"
    assert len(lines) == len(told) + 1
    rows = hanging_json(told) or []
    assert [row["fact"] for row in rows] == [hang.fact for hang in told]
    assert all(set(row) == {"fact", "value", "basis", "changes_at", "to"} for row in rows)
    for row in rows:
        assert row["to"] == "no-chain" or set(row["to"]) == {"adhesive", "coatings"}
    assert hanging_json(None) is None
    assert "No fact" in list(hanging_lines(plan, []))[1]


def test_a_fact_is_told_as_it_is_asked_for(engine: Engine) -> None:
    lacquer = engine.knowledge.entry("acrylic-lacquer-alcohol-borne")
    glue = engine.knowledge.entry("ethyl-cyanoacrylate-low-viscosity")
    hang = Hang(f"{lacquer.id}.full_cure_min", lacquer, "full_cure_min", 360.0, "memory", "", 180.0, None)
    name = lacquer.name
    assert words(hang) == f"how long {name} takes to cure: 3 h or less, where 6 h is held (recalled)"
    graded = hang._replace(field="resists.humid-air", value="fair", changes_at="poor")
    assert words(graded) == f"how well {name} stands humid air: poor, where fair is held (recalled)"
    bond = hang._replace(entry=glue, field="schedules.thumb.service_max_c", value=75.0, changes_at=80.001)
    assert words(bond) == (
        f"{glue.name}, cure thumb: what heat the bond endures after that cure: more than 80 degC, "
        "where 75 degC is held (recalled)"
    )


def test_every_fact_that_is_looked_at_has_words(engine: Engine) -> None:
    rows = engine.knowledge.tables["spreads"]
    for entry in engine.knowledge.entries.values():
        for field in (name for name in entry.facts if ends(entry.facts, name, rows)):
            said = asked_words(f"{entry.kind}.{field}", {entry.kind: entry.name})
            assert "_" not in said and not said.startswith("what the "), said  # noqa: PT018


def test_a_sourced_value_without_a_range_is_not_moved(engine: Engine) -> None:
    entry = engine.knowledge.entry("acrylic-lacquer-alcohol-borne")
    rows = engine.knowledge.tables["spreads"]
    assert ends(entry.facts, "outgassing_tml_pct", rows) == ()
    assert ends(entry.facts, "full_cure_min", rows) == (120.0,)
    assert ends(entry.facts, "min_c", rows) == (-60.0, -40.0)
    assert ends(entry.facts, "resists.humid-air", rows) == ("poor", "good")
    assert value_of(entry.facts, "resists.humid-air") == "fair"


if __name__ == "__main__":
    made = Engine(kb_knowledge.load())
    every = [f for n in range(int(sys.argv[1])) for f in faults(made, random_job(n, made.knowledge)[0], n)]
    print("\n".join(every) or f"{sys.argv[1]} plans: what they hang on is so.")
    raise SystemExit(bool(every))
