"""One guess at what words mean, and how sure a guess must be."""

from __future__ import annotations

from typing import NamedTuple

from kb.knowledge import Entry

#: From SURE on a likeness may be taken without asking, if it is LEAD ahead of everything that is handled otherwise.
SURE, LEAD = 90.0, 4.0
#: Where the best is less like than this, nobody would see any of them in the words.
SEEN = 70.0
#: How like something is that only shares a name with what is called just so: too like to be passed over.
NAMESAKE = 100.0 - LEAD / 2


class Match(NamedTuple):
    """One item that words may mean: how it was found, and how like it is, 0 to 100.

    Matches of one `handling` can't be told apart by any rule.
    """

    entry: Entry
    how: str
    score: float
    handling: int = 0
