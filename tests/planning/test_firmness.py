"""What is said to turn an answer turns it: the engine is asked again with that one level counting otherwise."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from kb.calibrate.rounds import engine_with
from kb.engine.chain import times_of
from kb.engine.plan import Engine
from kb.planning.ask import Asked, ask
from kb.planning.firmness import firmness, rivals
from tests.oracles.jobs import random_job


def answers(engine: Engine, count: int) -> Iterator[Asked]:
    """Random jobs that have a chain."""
    for seed in range(count):
        asked = ask(engine, random_job(seed, engine.knowledge)[0], "job")
        if asked.plan.chains:
            yield asked


def turned(engine: Engine, level: str, share: float) -> Engine:
    """The engine with one level counting so much more or less; whole points of a thousand times each."""
    points = {name: 1000 * one for name, one in engine.knowledge.tables["ranking"]["levels"].items()}
    return engine_with(engine.knowledge, {**points, level: max(0, round(points[level] * (1 + share)))})


def test_a_level_that_counts_so_much_otherwise_puts_another_chain_first(engine: Engine) -> None:
    seen = 0
    for asked in answers(engine, 40):
        found = firmness(asked.plan, asked.others)
        if found is None or not found.share or not -0.95 < found.share < 5:
            continue
        seen += 1
        first = asked.plan.chains[0]
        # The points of each chain are whole, so the gap is known to a point or so.
        beyond = found.share * max(1.02, 1 + 2 / (found.rival.cost - first.cost))
        after = turned(engine, found.level, beyond).plan(asked.job, asked.resolved.entry, 1).chains[0]
        assert after.key != first.key, f"{asked.job.part.substrate}: {found.level} {beyond:+.1%}"
    assert seen > 10


def test_no_rival_is_nearer_by_any_level(engine: Engine) -> None:
    """By another reckoning: each rival's cost with each level moved by nine tenths of the share stays above."""
    for asked in answers(engine, 20):
        found = firmness(asked.plan, asked.others)
        if found is None:
            continue
        levels = asked.plan.screened.ranking.levels_of
        first = times_of(asked.plan.screened, asked.plan.chains[0])
        for rival in rivals(asked.plan, asked.others):
            other = times_of(asked.plan.screened, rival)
            for level in levels:
                for way in (-1, 1):
                    share = way * min(0.9 * abs(found.share), 1.0)
                    counts = {**levels, level: levels[level] * (1 + share)}
                    gap = sum((other.get(name, 0.0) - first.get(name, 0.0)) * counts[name] for name in levels)
                    # Points of a chain are whole for each of its members.
                    assert gap > -20, f"{asked.job.part.substrate}: {level} {share:+.1%}"


def test_none_where_the_shelf_decided_or_nothing_differs(engine: Engine) -> None:
    asked = next(answers(engine, 5))
    assert firmness(replace(asked.plan, supplied=1), asked.others) is None
    assert firmness(asked.plan, ()) is None
