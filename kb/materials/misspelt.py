"""Words that are nothing as they stand: the words of classes and exposures that they are like, or that they hold."""

from __future__ import annotations

from kb.base.lexicon import run_of
from kb.knowledge import Knowledge

#: Shorter words are never taken for a slip of one another.
SHORT = 5


def misspelt(words: str, knowledge: Knowledge, least: float) -> list[str]:
    """Give words of classes and exposures that are as like these, of 100, the likest first."""
    from rapidfuzz import fuzz, process

    names = knowledge.tables["asked"]["names"]
    typed = run_of(knowledge.lexicon.atoms(words))
    found = process.extract(typed, list(names), scorer=fuzz.ratio, score_cutoff=least, limit=3)
    return [names[run] for run, _, _ in found if len(run) > SHORT]


def within(words: str, knowledge: Knowledge) -> str:
    """Find the longest run of words within `words` that a class or an exposure is called by; "" where there is none."""
    names = knowledge.tables["asked"]["names"]
    atoms = knowledge.lexicon.atoms(words)
    ends = [(start, end) for start in range(len(atoms)) for end in range(start + 1, len(atoms) + 1)]
    longest = sorted(ends, key=lambda span: span[0] - span[1])
    return next((names[run] for start, end in longest if (run := run_of(atoms[start:end])) in names), "")
