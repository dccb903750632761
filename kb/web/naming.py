"""Items by their names, where a sentence that is made for a terminal has their ids."""

from __future__ import annotations

import re

from kb.base.vocabulary import EXPOSURES
from kb.knowledge import Knowledge

_ID = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)+")
#: The rule that a reason rests on, as a terminal is told it.
_RULE = re.compile(r" \[[a-z0-9-]+\]$")


def name_of(item: str, known: Knowledge) -> str:
    """Give the name of an item or of something that a part is exposed to; what is neither is left as it is."""
    if item in EXPOSURES:
        return item.replace("-", " ")
    entry = known.entries.get(item)
    return entry.name if entry else item


def in_names(sentence: str, known: Knowledge) -> str:
    """Give the sentence with names for ids, and without the rule at its end."""
    return _ID.sub(lambda found: name_of(found[0], known), _RULE.sub("", sentence))
