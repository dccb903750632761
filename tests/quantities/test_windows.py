"""The readings that a sheet allows are those with which the room may be worked in, and no others."""

from __future__ import annotations

from typing import Any

import pytest

from kb.engine.plan import Engine
from kb.quantities.bench import fitness, ordinary
from kb.quantities.moves import READINGS
from kb.quantities.windows import Window, windows
from tests.quantities.jobs import BOARD, BRACKET, GIRDER, job_with, planned, substrate_of


@pytest.mark.parametrize("base", [BOARD, BRACKET, GIRDER], ids=["board", "bracket", "girder"])
@pytest.mark.parametrize("reading", READINGS)
def test_at_the_ends_of_a_window_the_reading_is_let_through_and_beyond_it_is_not(
    base: dict[str, dict[str, Any]], reading: str, engine: Engine
) -> None:
    job = ordinary(job_with(base))
    substrate = substrate_of(job, engine)
    plan, chain = planned(job, engine)
    ends = windows(plan, chain)[reading]
    word = {"air_temperature_c": "the room to", "relative_humidity_pct": "% or", "part_temperature_c": "the part to"}

    def told(value: float) -> list[str]:
        here = job.model_copy(update={"bench": job.bench.model_copy(update={reading: value})})
        found = fitness(engine, here, substrate, chain)
        # What is only to be minded is told to be changed, too.
        if found.verdict == "go":
            return []
        # Near the dew point the part is told to be warmed whatever its own window is.
        return [change for change in found.changes if word[reading] in change and found.air.margin_c > 3]  # type: ignore[operator]

    for end, outward in ((ends.least, -1.0), (ends.most, 1.0)):
        if end is not None:
            assert told(end) == []
            assert told(end + outward)


def test_a_window_is_the_narrowest_that_any_rule_leaves(engine: Engine) -> None:
    """The filled epoxy is used from 12 degC on; its coats dry too slowly below 15 (common practice; from memory)."""
    plan, chain = planned(job_with(GIRDER), engine)
    adhesive = chain.pick("adhesive").entry
    assert adhesive is not None
    assert adhesive.facts["part_window_c"] == (12, 35)
    found = windows(plan, chain)
    assert found["part_temperature_c"] == (15, 35)
    assert found["air_temperature_c"] == Window(15, None)
    assert found["relative_humidity_pct"] == adhesive.facts["humidity_window_pct"]
