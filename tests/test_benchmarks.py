"""The benchmark at a tiny size: what it generates is solved alike by the engine and by every peer that is installed."""

from __future__ import annotations

import time

import pytest

from tests.benchmarks import peers
from tests.benchmarks.__main__ import main
from tests.benchmarks.generate import generated
from tests.benchmarks.peers.limited import limited


def test_the_documented_command_runs_to_its_end_and_all_agree(capsys: pytest.CaptureFixture[str]) -> None:
    """Two disagreeing answers stop it. At three items a slot like items as one are the faster form on some seeds."""
    main(["--smoke"])
    printed = capsys.readouterr().out
    for title in ("clustered: milliseconds", "spread: milliseconds", "number of rules", "Random jobs", "whole command"):
        assert title in printed


@pytest.mark.parametrize("seed", [3, 5])
def test_like_items_as_one_have_as_many_chains(seed: int) -> None:
    """A class counts once a member, whoever enumerates."""
    written = generated(3, 200, seed, clustered=True).written
    classes = written.by_class()
    assert sum(map(len, classes.items.values())) < sum(map(len, written.items.values()))
    for solver in peers.installed()["brute force"].values():
        assert solver(classes, 10, 30.0) == solver(written, 10, 30.0) != []


def test_what_takes_too_long_is_stopped() -> None:
    with pytest.raises(TimeoutError), limited(0.01):
        time.sleep(5)
