"""What every answer in plain text shares: one width of line, and the standing caution."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from contextvars import ContextVar

from kb.rules.words import days_words, duration

#: The width of a line where nobody watches: what is printed or kept is the same everywhere.
WIDTH = 96
STANDING = (
    "Class values only: the data sheet of the item on your shelf rules. Read its safety data sheet; local rules "
    "come first; leave to licensed practice what the law or the hazard asks for."
)


_width: ContextVar[int] = ContextVar("width", default=WIDTH)


def set_width(columns: int) -> None:
    """Let lines have at most so many characters from now on."""
    _width.set(columns)


def capitalize_first(words: str) -> str:
    """Give a sentence's beginning, the rest as it is: what a person wrote in capitals stays so.

    >>> capitalize_first("ready after 3 h: THE LIMIT IS MISSED")
    'Ready after 3 h: THE LIMIT IS MISSED'
    """
    return words[:1].upper() + words[1:]


def listed(names: Sequence[str], word: str = "and") -> str:
    """Give the names in a row, the last one after `word`.

    >>> listed(["oak", "beech", "ash"]), listed(["oak"], "or"), listed([])
    ('oak, beech and ash', 'oak', '')
    """
    return f" {word} ".join(filter(None, (", ".join(names[:-1]), names[-1]))) if names else ""


def one_of(kind: str) -> str:
    """Give a kind with its article.

    >>> one_of("adhesive"), one_of("coating")
    ('an adhesive', 'a coating')
    """
    return f"{'an' if kind[0] in 'aeiou' else 'a'} {kind}"


def filled(text: str) -> str:
    """Write `text` in lines of the width."""
    return textwrap.fill(text, _width.get(), break_on_hyphens=False)


def wrapped(text: str, lead: str, indent: int | None = None) -> str:
    """Write `text` in lines of the width after `lead`, the further ones indented by it, or by `indent` blanks."""
    hang = " " * (len(lead) if indent is None else indent)
    return textwrap.fill(text, _width.get(), initial_indent=lead, subsequent_indent=hang, break_on_hyphens=False)


def clipped(text: str, lead: str, most: int, indent: int | None = None) -> str:
    """Wrap `text` in at most so many lines; what is longer ends in dots.

    >>> clipped("word " * 40, "- ", 1)[-12:]
    'word word...'
    """
    lines = wrapped(text, lead, indent).splitlines()
    if len(lines) <= most:
        return "\n".join(lines)
    last = textwrap.shorten(
        " ".join(line.strip() for line in lines[most - 1 :]), _width.get() - len(lead), placeholder="..."
    )
    kept = lines[most - 1][: len(lines[most - 1]) - len(lines[most - 1].lstrip())] if most > 1 else lead
    return "\n".join([*lines[: most - 1], f"{kept}{last.removeprefix(lead.strip()).lstrip()}"])


def counted(number: int, what: str) -> str:
    """Tell how many there are of what.

    >>> counted(1, "oven"), counted(2, "oven")
    ('1 oven', '2 ovens')
    """
    return f"{number} {what}{'' if number == 1 else 's'}"


def days(value: float) -> str:
    """Tell days, or hours below one.

    >>> days(365.0), days(1.0), days(0.5)
    ('365 days', '1 day', '12 h')
    """
    return hours(value * 24) if value < 1 else days_words(value)


def hours(value: float) -> str:
    """Tell hours and whole minutes, none too few.

    >>> hours(26.51), hours(2.0), hours(0.75)
    ('26 h 31 min', '2 h', '45 min')
    """
    return duration(math.ceil(value * 60 - 1e-6))
