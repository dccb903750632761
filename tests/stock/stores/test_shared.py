"""A sample of what a shared ledger must endure; `python -m tests.stock.ordeal --benches --shared-kills` does it all."""

from __future__ import annotations

import pytest

from tests.stock.ordeal import shared

SEED = 20271


@pytest.mark.usefixtures("socket_folder")
def test_eight_benches_on_two_servers_lose_nothing_and_double_nothing() -> None:
    found = shared.benches(6, SEED)
    assert found["operations"] == 48
    assert found["acknowledged"] > 20


@pytest.mark.usefixtures("socket_folder")
def test_kills_of_programs_and_of_the_server_cost_nothing_that_was_acknowledged() -> None:
    found = shared.killed(40, SEED)
    assert found["kills of the server"] == 2
    assert found["acknowledged"] > 20
