"""What a terminal can show: its width, and colour where somebody looks who didn't ask for none."""

from __future__ import annotations

import os
import re
import shutil
import sys

#: Narrower than this no answer can be read.
_NARROWEST = 50
_BOLD, _RED, _GREEN, _YELLOW = "1", "1;31", "1;32", "33"
_BAD = r"BLOCKED|NEEDS|STOP|NO CHAIN|NOT KNOWN|MUST NOT BE USED|SHORT"
#: What is painted, and how; the first that fits a place takes it. Nothing is said by colour alone.
_PAINT = (
    (re.compile(rf"^( *)({_BAD})(?![a-z])", re.M), _RED),
    (re.compile(r"^( *)(COMPATIBLE|GO)\b(?![a-z])", re.M), _GREEN),
    (re.compile(r"^()([A-Z]{2,}(?: [A-Z0-9]+)*)(?= |$)", re.M), _BOLD),
    (re.compile(r"^( *)(!)(?= )", re.M), _YELLOW),
)


def fit() -> None:
    """Let lines be as short as the terminal needs them; where nobody watches, answers are the same everywhere."""
    if _watched():
        from kb.report.text import WIDTH, set_width

        set_width(max(_NARROWEST, min(WIDTH, shutil.get_terminal_size((WIDTH + 1, 24)).columns - 1)))


def painted(text: str) -> str:
    """Colour the heads and verdicts of an answer, where somebody sees it."""
    if not _watched() or os.environ.get("NO_COLOR") or os.environ.get("TERM", "") in ("", "dumb"):
        return text
    return coloured(text)


def coloured(text: str) -> str:
    """Colour the heads and verdicts of an answer.

    >>> coloured("READY    after 3 h")
    '\\x1b[1mREADY\\x1b[0m    after 3 h'
    """
    for pattern, colour in _PAINT:
        text = pattern.sub(f"\\g<1>\x1b[{colour}m\\g<2>\x1b[0m", text)
    return text


def _watched() -> bool:
    return sys.stdout is not None and sys.stdout.isatty()
