"""What people call the face of a part under a gauge: the words that a job may give beside the vocabulary's own."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cache

from kb.base.lexicon import folded
from kb.base.surroundings import asked
from kb.base.vocabulary import SURFACES


@cache
def said_as() -> Mapping[str, str]:
    """Give what people call each surface, folded, with the surface that they mean (asked.toml)."""
    table = asked()["surfaces"]
    return {folded(words): surface for surface in SURFACES for words in (surface, *table.get(surface, ()))}


def said_beside(words: Iterable[str]) -> dict[str, str]:
    """Give the surface that each of the words beside a material's name means, by word: "rusty" steel is oxidised.

    >>> said_beside(["rusty", "scaffold"])
    {'rusty': 'oxidised'}
    """
    meant = {word: named(word) for word in words}
    return {word: surface for word, surface in meant.items() if surface in SURFACES}


def named(word: str) -> str:
    """Give the surface that a word means; the word itself where it means none.

    >>> named("painted"), named("Rusty"), named("hot-dip galvanised"), named("moonlit")
    ('painted', 'oxidised', 'plated', 'moonlit')
    """
    return word if word in SURFACES else said_as().get(folded(word), word)
