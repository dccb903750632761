"""How the lab's own lists are laid out: what they call the columns, what to pass over, and how they write dates.

It is told for one import, or kept among the lab's documents (`kb.base.documents`) for every one that follows. A date
that could be read two ways is never guessed: without a word from the lab only ISO dates are read.

>>> lab = layout_of(["quantity=Amount (left)", "lot=Batch/No"], ["Price"], "day-first")
>>> lab.read_as["amount_left"], lab.day("31/12/2027"), lab.day("2027-12-31")
('quantity', '2027-12-31', '2027-12-31')
>>> Layout().day("1/2/2027")
Traceback (most recent call last):
    ...
ValueError: '1/2/2027' is not an ISO date (2027-03-01); say how the list writes dates: --dates day-first, or month-first
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Any, Final

from kb.base.documents import Documents
from kb.base.errors import BadInput, nearest
from kb.stock import when

#: How dates may be written.
DATES: Final = ("iso", "day-first", "month-first")
_TABLE, _KEY, _NAME = "settings", "name", "import-layout"
_LONGEST = 80
_WRITTEN = re.compile(r"(\d{1,2})([./-])(\d{1,2})\2(\d{4}|\d{2})", re.ASCII)
#: Midnight, which some programs add to a date.
_MIDNIGHT = re.compile(r"[T ]0?0:00(:00(\.0+)?)?$", re.ASCII)


@dataclass(frozen=True)
class Layout:
    """The lists' own words by our column, the columns that are passed over, and how dates are written.

    `must` are the lists' own columns that this very list must have.
    """

    columns: tuple[tuple[str, str], ...] = ()
    skipped: tuple[str, ...] = ()
    dates: str = "iso"
    must: tuple[str, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.columns or self.skipped or self.dates != "iso")

    @cached_property
    def read_as(self) -> Mapping[str, str]:
        """Our column by theirs, folded; one that is passed over has a name that no column of ours has."""
        passed_over = {column_name(theirs): f"({theirs})" for theirs in self.skipped}
        return {**passed_over, **{column_name(theirs): ours for ours, theirs in self.columns}}

    @cached_property
    def theirs(self) -> Mapping[str, str]:
        """What the lists call each of our columns."""
        return dict(self.columns)

    def and_(self, more: Layout) -> Layout:
        """Join this and what was told besides; of two words for one column the later counts."""
        columns = {**self.theirs, **more.theirs}
        named = set(columns.values())
        skipped = tuple(one for one in dict.fromkeys((*self.skipped, *more.skipped)) if one not in named)
        dates = more.dates if more.dates != "iso" else self.dates
        return replace(self, columns=tuple(columns.items()), skipped=skipped, dates=dates, must=more.must)

    def day(self, cell: str) -> str:
        """Give a cell as a canonical date; ValueError with a sentence where it is none, or could be two."""
        said = _MIDNIGHT.sub("", cell.strip())
        found = _WRITTEN.fullmatch(said)
        if found is None:
            return when.day(said)
        if self.dates == "iso":
            mend = "say how the list writes dates: --dates day-first, or month-first"
            raise ValueError(f"'{cell}' is not an ISO date (2027-03-01); {mend}")
        first, _, second, year = found.groups()
        day, month = (first, second) if self.dates == "day-first" else (second, first)
        try:
            return when.day(f"{year if len(year) == 4 else f'20{year}'}-{month:0>2}-{day:0>2}")
        except ValueError:
            raise ValueError(f"'{cell}' is no day of the calendar, read {self.dates}") from None

    def text(self) -> str:
        """Tell what it says, in a line."""
        said = [f"{ours} is '{theirs}'" for ours, theirs in self.columns]
        said += [f"'{theirs}' is passed over" for theirs in self.skipped]
        return "; ".join([*said, f"dates are {'ISO' if self.dates == 'iso' else self.dates}"])

    def document(self) -> dict[str, Any]:
        """Give it as JSON holds it."""
        return {"columns": dict(self.columns), "skipped": list(self.skipped), "dates": self.dates}


#: A list that has our own columns, and ISO dates.
PLAIN: Final = Layout()


def column_name(words: str) -> str:
    """Give a column's name in lower case, its words joined: "Temperature (°C)" is temperature_c."""
    return re.sub(r"\W+", "_", words.lower()).strip("_") or words.strip()


def layout_of(columns: Iterable[str], skipped: Iterable[str], dates: str, known: Iterable[str] = ()) -> Layout:
    """Make a layout of what was typed: OURS=THEIRS each, names to pass over. BadInput for a column unknown here."""
    ours_known, found = tuple(known), dict[str, str]()
    for words in columns:
        ours, sign, theirs = (part.strip() for part in words.partition("="))
        if not sign or not ours or not theirs:
            raise BadInput("--column", f"'{words}' is not OURS=THEIRS", "such as quantity='Amount left'")
        if ours_known and ours not in ours_known:
            mend = nearest(ours, ours_known) or f"columns are {', '.join(ours_known)}"
            raise BadInput("--column", f"'{ours}' is no column that a list may have", mend)
        if ours in found:
            raise BadInput("--column", f"'{ours}' is named twice", "name it once")
        found[ours] = theirs
    passed_over = tuple(dict.fromkeys(one.strip() for one in skipped))
    for name in (*found.values(), *passed_over):
        if not name or len(name) > _LONGEST or not name.isprintable():
            raise BadInput("--column", f"'{name[:40]}' is no name of a column", f"up to {_LONGEST} characters")
    if dates not in DATES:
        raise BadInput("--dates", f"'{dates}' is no way to write dates", f"one of {', '.join(DATES)}")
    return Layout(tuple(found.items()), passed_over, dates, (*found.values(), *passed_over))


def remembered(workspace: Path, known: Iterable[str] = ()) -> Layout:
    """Give the layout that the lab has kept; a plain one where it has kept none. BadInput where it was edited amiss."""
    row = Documents(workspace).row(_TABLE, _KEY, _NAME)
    if row is None:
        return Layout()
    try:
        columns = [f"{ours}={theirs}" for ours, theirs in dict(row.get("columns") or {}).items()]
        found = layout_of(columns, map(str, row.get("skipped") or ()), str(row.get("dates") or "iso"), known)
    except (BadInput, TypeError, ValueError) as fault:
        said = fault.what if isinstance(fault, BadInput) else "is amiss"
        raise BadInput("documents.json: import-layout", said, "mend it, or `stock layout --forget`") from None
    return replace(found, must=())


def remember(workspace: Path, layout: Layout) -> None:
    """Keep a layout for every import that follows."""
    Documents(workspace).put(_TABLE, _KEY, {_KEY: _NAME, **layout.document()})


def forget(workspace: Path) -> bool:
    """Forget the layout; whether one was kept."""
    return Documents(workspace).take_away(_TABLE, _KEY, _NAME)
