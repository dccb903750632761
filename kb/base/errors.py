"""The errors that reach a user: one line each, with the exit status that goes with it.

>>> print(BadInput("job.toml: service.exposures", "'sea-watter' is not an exposure", "see the list"))
job.toml: service.exposures: 'sea-watter' is not an exposure; see the list
"""

import re
from collections.abc import Iterable

#: More of a word, and of a line, isn't read by anybody.
_LONGEST_WORD, _LONGEST = 400, 4000
#: The exit statuses; the last is that of what somebody stopped with Ctrl-C, as shells have it.
ANSWER, ACT, BAD_INPUT, NO_CHAIN, STORE, STOPPED = 0, 1, 2, 3, 4, 130


def one_line(text: str) -> str:
    """Give `text` with every run of white space and control characters folded into one blank."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def to_tell(text: str) -> str:
    """Give `text` on one line that people can read: what was given may be a word without end.

    >>> len(to_tell("x" * 10_000_000)), to_tell("one\\nline")
    (401, 'one line')
    """
    words = re.sub(rf"(\S{{{_LONGEST_WORD}}})\S+", r"\1…", one_line(text))
    return words if len(words) <= _LONGEST else words[:_LONGEST] + "…"


class TackroomError(Exception):
    """Where it is wrong, what is wrong, and how to mend it, said in one line."""

    exit_status = BAD_INPUT

    def __init__(self, where: str, what: str, mend: str = "") -> None:
        self.where, self.what, self.mend = to_tell(where), to_tell(what), to_tell(mend)
        said = f"{self.where}: {self.what}" if self.where else self.what
        super().__init__(f"{said}; {self.mend}" if self.mend else said)


class BadInput(TackroomError):
    """What the user gave can't be used as it stands."""


class StoreError(TackroomError):
    """The workspace's store is locked, damaged, newer than this program, or refused a write."""

    exit_status = STORE


def nearest(word: str, known: Iterable[str], cutoff: float = 70.0) -> str:
    """Give the known word most like `word`, as a mend ("did you mean 'x'?"), or "" where none is near.

    >>> nearest("expsures", ["exposures", "peak"])
    "did you mean 'exposures'?"
    >>> nearest("ca-l2", ["CA-12", "IPA-31"]), nearest("qqq", ["exposures", "peak"])
    ("did you mean 'CA-12'?", '')
    """
    from rapidfuzz import fuzz, process

    choices = sorted(known)
    best = process.extractOne(word, choices, scorer=fuzz.ratio, processor=str.lower, score_cutoff=cutoff)
    if best is None and 2 < len(word) < 5:
        best = process.extractOne(word, choices, scorer=fuzz.ratio, processor=str.lower, score_cutoff=60)
    if best is None and len(word) >= 5:
        best = process.extractOne(word, choices, scorer=fuzz.partial_ratio, processor=str.lower, score_cutoff=85)
    return f"did you mean '{best[0]}'?" if best else ""


def near_or_all(word: str, known: Iterable[str]) -> str:
    """Tell what to write in place of `word`, as a mend: the known word that is like it, or else the list of them all.

    >>> near_or_all("blok", ["block", "need"]), near_or_all("xyzzy", ["block", "need"])
    ("did you mean 'block'?", 'known: block, need')
    """
    words = tuple(known)
    return nearest(word, words) or f"known: {', '.join(words)}"
