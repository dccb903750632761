"""Words in the plural, and what they may be the plural of: which of several it is, the names decide.

>>> [next(singulars(word), word) for word in ("steels", "brasses", "epoxies", "pcbs", "gas", "glass")]
['steel', 'brass', 'epoxy', 'pcb', 'gas', 'glass']
"""

from __future__ import annotations

from collections.abc import Iterator

#: In a word of so few letters an s is no ending: "gas", "ABS".
_SHORT = 3
#: After these the plural takes an e as well: brasses, boxes, brushes, patches.
_HISSING = ("s", "x", "z", "ch", "sh", "o")
#: Endings of plurals, the likeliest first, and what stands there in the singular.
_ENDINGS = (("ies", "y"), ("es", ""), ("s", ""))


def singulars(word: str) -> Iterator[str]:
    """Give what a word may be the plural of, the likeliest first; nothing for one that is none.

    >>> list(singulars("axes")), list(singulars("adhesives")), list(singulars("brass")), list(singulars("17s"))
    (['ax', 'axe'], ['adhesive'], [], [])
    """
    if not word.isalpha() or len(word) <= _SHORT or word.endswith("ss"):
        return
    for ending, instead in _ENDINGS:
        stem = word.removesuffix(ending)
        if stem and stem != word and (ending != "es" or stem.endswith(_HISSING)):
            yield stem + instead


def numbers(word: str) -> Iterator[str]:
    """Give the word, then what it may be the plural of, then its own plural.

    >>> list(numbers("steels")), list(numbers("pvc"))
    (['steels', 'steel', 'steelss'], ['pvc'])
    """
    yield word
    yield from singulars(word)
    if word.isalpha() and len(word) > _SHORT:
        yield f"{word}s"
