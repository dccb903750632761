"""What the pictures share: a scale, its ticks, and the finished picture."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from kb.report.pages import render

#: As wide as a phone shows without scrolling [px]: what tells must not lie beyond its edge.
PHONE: Final = 328
#: So many letters of the smallest size fit into a line of it; and a line is so high.
LETTERS: Final = 54
LINE: Final = 16


@dataclass(frozen=True, slots=True)
class Picture:
    """`svg` to be shown, `text` for whoever can't see it: a title, then a line for each thing that is drawn."""

    title: str
    svg: str
    text: str


@dataclass(frozen=True, slots=True)
class Scale:
    """A straight scale from values to pixels.

    >>> scale = Scale(0, 10, left=100, right=200)
    >>> scale.at(2.5), scale.at(99), scale.ticks(4)
    (125.0, 200.0, [0.0, 5.0, 10.0])
    """

    low: float
    high: float
    left: float
    right: float

    def at(self, value: float) -> float:
        """Tell where `value` lies, held within the scale's ends."""
        share = (min(max(value, self.low), self.high) - self.low) / (self.high - self.low)
        return round(self.left + share * (self.right - self.left), 1)

    def ticks(self, most: int) -> list[float]:
        """Choose at most about `most` round values, a step of 1, 2 or 5 times a power of ten apart."""
        step = step_for((self.high - self.low) / most)
        first = math.ceil(self.low / step - 1e-9)
        last = math.floor(self.high / step + 1e-9)
        return [round(n * step, 9) for n in range(first, last + 1)]


def step_for(least: float) -> float:
    """Give the smallest of 1, 2 and 5 times a power of ten that is not below `least`.

    >>> [step_for(x) for x in (0.3, 7, 20, 21)]
    [0.5, 10.0, 20.0, 50.0]
    """
    power = 10.0 ** math.floor(math.log10(least))
    return next(m * power for m in (1.0, 2.0, 5.0, 10.0) if m * power >= least * (1 - 1e-9))


def noted(words: str, y: int) -> list[tuple[int, str]]:
    """Give the lines of a note below a picture, each with where it stands; the first at `y`.

    >>> noted("Solid: in the chain. Hatched: can be used. Dashed: refused.", 100)
    [(100, 'Solid: in the chain. Hatched: can be used. Dashed:'), (116, 'refused.')]
    """
    return [(y + LINE * n, line) for n, line in enumerate(textwrap.wrap(words, LETTERS))]


def drawn(
    template: str,
    name: str,
    title: str,
    lines: Sequence[str],
    *,
    summary: str = "",
    width: int,
    height: int,
    **shapes: Any,
) -> Picture:
    """Draw the picture in `template`. `name` makes its ids unique on a page; `summary`, or all lines, describe it."""
    svg = render(
        template, name=name, title=title, desc=summary or "; ".join(lines), width=width, height=height, **shapes
    )
    return Picture(title, svg, "".join(f"{line}\n" for line in (title, *([summary] if summary else []), *lines)))
