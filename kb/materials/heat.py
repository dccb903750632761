"""Degrees as they are typed among other words: "oil at 120 C", "minus 40 degF"."""

from __future__ import annotations

import re

from kb.base.errors import BadInput
from kb.base.units import to_unit

#: Degrees beside what is so hot, with the word that ties them to it.
DEGREES = re.compile(
    r"(?:\b(?:at|of|up to)\s+)?(?<![\w.])(?P<number>(?:[-+\u2212\u2013]|minus\s+)?\d+(?:\.\d+)?)\s*"
    r"(?:°|deg(?:rees?)?\.?)?\s*(?P<unit>[cf]|celsius|fahrenheit)\b",
    re.IGNORECASE,
)


def celsius(found: re.Match[str], words: str, where: str) -> float:
    """Give the degrees that were found in `words` [degC]; BadInput where there are none such.

    >>> celsius(DEGREES.search("oil at 212 F"), "oil at 212 F", "t")
    100.0
    """
    try:
        return to_unit(f"{found['number']} deg{found['unit'][0].upper()}", "degC")
    except ValueError as fault:
        raise BadInput(where, f"'{words}': {fault}", "give degrees that there are") from None
