"""Words to what stands on a shelf: a name is taken, a word of the bench is asked back, and nothing is guessed."""

from __future__ import annotations

import pytest

from kb.base.errors import BadInput
from kb.knowledge import load
from kb.stock.items import MOST_OFFERED, Items

ITEMS = Items(load())


@pytest.mark.parametrize(("words", "item"), [("acetone", "acetone"), ("Isopropanol", "isopropyl-alcohol")])
def test_a_name_is_taken(words: str, item: str) -> None:
    assert ITEMS.resolve(words) == item


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("super glue", r"'super glue' may be any of \d+ items; write which .*ethyl-cyanoacrylate-low-viscosity"),
        ("epoxy", r"'epoxy' may be any of \d+ items; .* or one of \d+ more; see"),
        ("gauze", "'gauze' is no item that is known; near: lint-free-gauze"),
        ("acetome", "'acetome' is no item that is known; near: acetone"),
        ("bananas", "'bananas' is no item that is known; see `tackroom list`"),
        ("steel", "'steel' is no item that is known"),  # no material of a part is kept in stock
    ],
)
def test_what_isnt_one_is_asked_back(words: str, said: str) -> None:
    with pytest.raises(BadInput, match=said):
        ITEMS.resolve(words)


def test_a_long_list_is_cut() -> None:
    with pytest.raises(BadInput) as refused:
        ITEMS.resolve("epoxy")
    assert refused.value.mend.count(", ") == MOST_OFFERED - 1
