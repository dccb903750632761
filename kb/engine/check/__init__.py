"""Do things go together? The same rules, placed and judged as `plan` places and judges them, asked of a few things."""

from __future__ import annotations

from kb.engine.check.answer import Answer, Member, answer
from kb.engine.check.grid import GRID_KINDS, PRESET, Grid, grid_of
from kb.engine.check.hearing import VERDICTS, supplied
from kb.engine.check.reading import Asked, Question, question
from kb.engine.check.remedies import Remedy, remedies
from kb.engine.check.things import Setting, Thing
from kb.engine.check.verdict import (
    NOT_KNOWN,
    Bench,
    Checked,
    Unknown,
    Use,
    check,
    verdict_of,
    worst,
)
from kb.rules.relations import EXPOSURE

__all__ = [
    "EXPOSURE",
    "GRID_KINDS",
    "NOT_KNOWN",
    "PRESET",
    "VERDICTS",
    "Answer",
    "Asked",
    "Bench",
    "Checked",
    "Grid",
    "Member",
    "Question",
    "Remedy",
    "Setting",
    "Thing",
    "Unknown",
    "Use",
    "answer",
    "check",
    "grid_of",
    "question",
    "remedies",
    "supplied",
    "verdict_of",
    "worst",
]
