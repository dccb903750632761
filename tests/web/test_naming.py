"""Sentences that were made for a terminal name their items on a page, and leave all else as it is."""

from __future__ import annotations

import pytest

from kb.knowledge import Knowledge
from kb.web.naming import in_names, name_of


@pytest.mark.parametrize(
    ("said", "told"),
    [
        (
            "in place of acetone take isopropyl-alcohol: caution",
            "in place of acetone take isopropyl alcohol, 99 % or better: caution",
        ),
        ("it swells [solvents-swell-rubber]", "it swells"),
        ("well-known in dry-air", "well-known in dry air"),
    ],
)
def test_ids_become_names(said: str, told: str, knowledge: Knowledge) -> None:
    assert in_names(said, knowledge) == told


def test_what_has_no_name_is_left(knowledge: Knowledge) -> None:
    assert name_of("no-such-item", knowledge) == "no-such-item"
