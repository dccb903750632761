"""How strong a liquid is said to be beside its name: "10 % sulfuric acid", "concentrated nitric acid"."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

_SHARE = r"\d+(?:[.,]\d+)?\s*(?:%|percent|per cent|pct)(?:\s*(?:[vw]/[vw]|vol|wt))?"
_FIRST = re.compile(rf"^(?P<strength>{_SHARE})\s*(?P<rest>\D.*)$", re.IGNORECASE)
_LAST = re.compile(rf"^(?P<rest>.*\D)\b(?P<strength>{_SHARE})$", re.IGNORECASE)


def without_strength(words: str, strengths: Sequence[str]) -> Iterator[tuple[str, str]]:
    """Give the name without a word or a share of its strength at an end, and that word; nothing where there is none.

    >>> list(without_strength("conc. nitric acid", ["conc."])), list(without_strength("hydrogen peroxide, 3 %", []))
    ([('nitric acid', 'conc.')], [('hydrogen peroxide', '3 %')])
    """
    first, _, rest = words.partition(" ")
    if rest and first.lower() in strengths:
        yield rest, first
    for share in (_FIRST, _LAST):
        if found := share.match(words):
            yield found["rest"].strip(" ,"), found["strength"]
