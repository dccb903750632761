"""What a lab calls things: its own words for items, taught once and understood from then on.

They are documents of the workspace (`kb.base.documents`, table `words`), and nobody's knowledge but the lab's: they say
what words mean there, and nothing of what an item is.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection
from pathlib import Path

from kb.base.documents import Documents
from kb.base.errors import BadInput, nearest
from kb.base.lexicon import folded

_TABLE, _KEY = "words", "words"
#: Longer than this are no words for a thing.
LONGEST = 120


def key_of(words: str) -> str:
    """Give what words of the lab's own are compared by: in any script, whatever the case and the blanks.

    >>> key_of("Blue_Stuff  7"), key_of("СИНИЙ клей")
    ('blue stuff 7', 'синий клей')
    """
    return " ".join(re.sub(r"[\s_-]+", " ", unicodedata.normalize("NFKC", words).casefold()).split())


def called(workspace: Path) -> dict[str, str]:
    """Give what the workspace's words are compared by, each with its item. BadInput where a document is amiss."""
    return {key_of(words): item for words, item in listed(workspace)}


def listed(workspace: Path) -> list[tuple[str, str]]:
    """Give the workspace's words as they were taught, each with its item, in alphabetical order."""
    rows = Documents(workspace).rows(_TABLE)
    for row in rows:
        if not isinstance(row.get("words"), str) or not isinstance(row.get("item"), str):
            raise BadInput("documents.json: words", f"{row} is not words with an item", "mend it, or delete it")
    return sorted((row["words"], row["item"]) for row in rows)


def call(workspace: Path, words: str, item: str, taken: Collection[str]) -> str:
    """Teach that `words` mean `item`; gives what they meant before, "" where nothing.

    `taken` are the catalog's own names, folded: BadInput for one of them, or for words that say nothing.
    """
    said = " ".join(words.split())
    if not any(letter.isalnum() for letter in said) or len(said) > LONGEST:
        raise BadInput("call", f"'{said[:40]}' are no words that can be taught", f"up to {LONGEST} letters or digits")
    if folded(said) in taken:
        raise BadInput("call", f"'{said}' is a name of the catalog's own", "teach other words")
    before = next(((old, its) for old, its in listed(workspace) if key_of(old) == key_of(said)), ("", ""))
    documents = Documents(workspace)
    if before[0] and before[0] != said:
        documents.take_away(_TABLE, _KEY, before[0])
    documents.put(_TABLE, _KEY, {"words": said, "item": item})
    return before[1]


def uncall(workspace: Path, words: str) -> str:
    """Forget what `words` mean, and give what that was; BadInput, with the near words, where they were never taught."""
    known = listed(workspace)
    for old, item in known:
        if key_of(old) == key_of(words):
            Documents(workspace).take_away(_TABLE, _KEY, old)
            return item
    near = nearest(words, [old for old, _ in known]) or "see `tackroom call`"
    raise BadInput("call", f"'{words}' was never taught", near)
