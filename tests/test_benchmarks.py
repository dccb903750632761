"""The benchmark at a tiny size: what it generates is solved alike by the engine and by every peer that is installed."""

from __future__ import annotations

import time

import pytest

from tests.benchmarks.contest import contest
from tests.benchmarks.peers.limited import limited


@pytest.mark.parametrize("clustered", [True, False], ids=["clustered", "spread"])
@pytest.mark.parametrize("seed", [2, 4])
def test_all_agree_on_generated_knowledge(seed: int, clustered: bool) -> None:
    found = contest(2, 60, seed, clustered, 1)
    assert found["build and solve"].answer, "a problem without chains compares nothing"
    assert found["from raw data"].answer == found["build and solve"].answer
    assert all(timed.answer for timed in found.values()), "a peer gave up"


def test_what_takes_too_long_is_stopped() -> None:
    with pytest.raises(TimeoutError), limited(0.01):
        time.sleep(5)
