"""What is alike: no word is taken for its opposite, and no substance for its sister."""

from __future__ import annotations

import pytest

from kb.knowledge import Knowledge
from kb.materials.identify import identify


@pytest.mark.parametrize("words", ["uncoated steel", "unplated steel", "unpainted steel", "unprimed", "uncoated paper"])
def test_the_opposite_is_no_misspelling(words: str, knowledge: Knowledge) -> None:
    """Two letters make "uncoated" of "coated": taken for a misspelling, it would offer the coat."""
    offered = {match.entry.family for match in identify(words, knowledge)}
    assert not offered & {"painted-surface", "plated-surface"}
