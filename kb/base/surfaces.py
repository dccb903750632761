"""What people call the face of a part under a gauge: the words that a job may give beside the vocabulary's own."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

from kb.base.lexicon import folded
from kb.base.surroundings import asked
from kb.base.vocabulary import SURFACES


@cache
def said_as() -> Mapping[str, str]:
    """Give what people call each surface, folded, with the surface that they mean (asked.toml)."""
    table = asked()["surfaces"]
    return {folded(words): surface for surface in SURFACES for words in (surface, *table.get(surface, ()))}


def named(word: str) -> str:
    """Give the surface that a word means; the word itself where it means none.

    >>> named("painted"), named("Rusty"), named("hot-dip galvanised"), named("moonlit")
    ('painted', 'oxidised', 'plated', 'moonlit')
    """
    return word if word in SURFACES else said_as().get(folded(word), word)
