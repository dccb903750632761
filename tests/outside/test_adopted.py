"""Published values that the catalog cites: it has them within the tolerance, and says where they stand.

Each row was called up in the library that it names before it was adopted.
"""

from __future__ import annotations

import pytest

from kb.knowledge import Knowledge
from kb.rules.values import basis_of
from tests.outside.adopt import Published, agrees, citation, published


@pytest.mark.parametrize("row", published(), ids=lambda row: f"{row.item}.{row.field}")
def test_the_catalog_has_the_published_value_and_cites_it(row: Published, knowledge: Knowledge) -> None:
    assert agrees(row, knowledge)
    basis, where = basis_of(knowledge.entry(row.item).facts, row.field)
    assert basis == knowledge.sources[row.source]["kind"]
    assert row.source in where
    assert row.locator in where


def test_a_value_that_differs_by_more_does_not_agree(knowledge: Knowledge) -> None:
    row = published()[0]
    assert not agrees(row._replace(value=row.value * 1.05 + 1), knowledge)
    assert f'locator = "{row.locator}"' in citation(row, "dataset")
