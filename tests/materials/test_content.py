"""A filled plastic whose name doesn't say how much is in it."""

from __future__ import annotations

import pytest

from kb.knowledge import Knowledge
from kb.materials.resolve import substrate


@pytest.mark.parametrize("typed", ["PEI-GF30", "PA66-GF30", "30% glass filled PBT", "PEEK", "polyamide 66"])
def test_a_content_that_is_said_or_that_there_is_none_of_leaves_nothing_open(typed: str, knowledge: Knowledge) -> None:
    assert "filler_pct" not in substrate(typed, knowledge, "t").assumed
