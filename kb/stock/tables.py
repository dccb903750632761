"""Tables as spreadsheets and loggers write them: workbooks, or CSV with any separator and either decimal sign.

A cell that could be read two ways is a fault, not a guess. Every fault is kept with its row and column, so that a
file is mended in one go.

>>> table = read(b"item;lot;quantity\\r\\nacetone;A-17;2,5\\r\\n", "in.csv", ("item", "lot", "quantity"), ("item",))
>>> table.rows[0].cells, table.number(table.rows[0], "quantity")
({'item': 'acetone', 'lot': 'A-17', 'quantity': '2,5'}, Decimal('2.5'))
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cached_property
from typing import TypeVar

from kb.base.errors import BadInput, nearest
from kb.base.units import signed
from kb.stock import amounts
from kb.stock.layout import PLAIN, Layout, column_name
from kb.stock.workbook import is_workbook, text_in

T = TypeVar("T")

_SEPARATORS = (",", ";", "\t")
_LONGEST = 20_000_000
#: Thousands in groups of three, set apart by a blank of some kind or an apostrophe.
_SPACED = re.compile(r"[+-]?\d{1,3}(?:[ \u00a0\u202f\u2009'’]\d{3})+(?:[.,]\d+)?", re.ASCII)
#: What can only be a decimal comma or point: not three digits behind it, or both signs in one number.
_COMMA = re.compile(r"[+-]?(?:\d*,(?:\d{1,2}|\d{4,})|0,\d+|\d{4,},\d+|\d{1,3}(?:\.\d{3})+,\d+)", re.ASCII)
_POINT = re.compile(r"[+-]?(?:\d*\.(?:\d{1,2}|\d{4,})|0\.\d+|\d{4,}\.\d+|\d{1,3}(?:,\d{3})+\.\d+)", re.ASCII)
_WHOLE = re.compile(r"[+-]?\d+", re.ASCII)
#: What a spreadsheet takes for a formula, with any apostrophes before it.
_FORMULA = re.compile(r"'*[=+\-@\t\r＝＋－＠]")


class Faults(BadInput):
    """All that is wrong with a file. As one line it tells the first and how many there are."""

    def __init__(self, where: str, each: Sequence[BadInput]) -> None:
        self.each = tuple(each)
        first, more = self.each[0], len(self.each) - 1
        mend = first.mend + (f" (and {more} more fault{'s' if more > 1 else ''}; nothing was recorded)" if more else "")
        super().__init__(first.where or where, first.what, mend)


@dataclass(frozen=True, slots=True)
class Row:
    """A row's number, as a spreadsheet counts (the header is row 1), and its cells by column; empty ones are ""."""

    number: int
    cells: dict[str, str]


@dataclass
class Table:
    """The rows of a file, and the faults found in it so far."""

    where: str
    separator: str
    columns: tuple[str, ...]
    rows: list[Row]
    faults: list[BadInput] = field(default_factory=list)
    numeric: tuple[str, ...] = ()
    layout: Layout = PLAIN

    def fault(self, row: Row, column: str, what: str, mend: str = "") -> None:
        """Note that the cell is at fault."""
        called = self.layout.theirs.get(column, column)
        place = f"{self.where}: row {row.number}" + (f", column {called}" if called else "")
        self.faults.append(BadInput(place, what, mend))

    def read(self, row: Row, column: str, reader: Callable[[str], T]) -> T | None:
        """Give the cell as `reader` makes it; None where it is empty, or at fault by the reader's ValueError."""
        cell = row.cells.get(column, "")
        if not cell:
            return None
        try:
            return reader(cell)
        except ValueError as fault:
            self.fault(row, column, str(fault))
            return None

    def number(self, row: Row, column: str) -> Decimal | None:
        """Give the cell as a number, where it can only mean one; None where it is empty or at fault."""
        return self.read(row, column, self._number)

    def day(self, row: Row, column: str) -> str | None:
        """Give the cell as a date, as the list writes dates.

        A time of midnight, which some programs add, is dropped.
        """
        return self.read(row, column, self.layout.day)

    def close(self) -> None:
        """Raise Faults where any was found."""
        if self.faults:
            raise Faults(self.where, self.faults)

    @cached_property
    def _signs(self) -> tuple[bool, bool]:
        """Whether some number of the file can only have a decimal comma, and whether some only a point."""
        cells = [_plain(row.cells.get(name, "")) for row in self.rows for name in self.numeric or self.columns]
        return any(map(_COMMA.fullmatch, cells)), any(map(_POINT.fullmatch, cells))

    def _number(self, cell: str) -> Decimal:
        said = _plain(cell)
        commas, points = self._signs
        if _WHOLE.fullmatch(said) or _POINT.fullmatch(said):
            return amounts.amount(said.replace(",", ""))
        if _COMMA.fullmatch(said):
            return amounts.amount(said.replace(".", "").replace(",", "."))
        digits = said.lstrip("+-").replace(",", "").replace(".", "")
        if not digits.isdecimal() or not digits.isascii():
            raise ValueError(f"'{cell}' is not a number")
        if said.count(",") == 1 and "." not in said and commas and not points:
            return amounts.amount(said.replace(",", "."))
        if said.count(".") == 1 and "," not in said and not commas and (points or self.separator != ";"):
            return amounts.amount(said)
        raise ValueError(f"'{cell}' could mean two numbers; write it without thousands, such as 1250 or 1.25")


def written(columns: Iterable[object], rows: Iterable[Iterable[object]], end: str = "\r\n") -> str:
    """Write a table as CSV, a line for its columns first; what is None is an empty cell.

    >>> written(("item", "days"), [("acetone", None)])
    'item,days\\r\\nacetone,\\r\\n'
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator=end)
    writer.writerow(columns)
    writer.writerows(rows)
    return out.getvalue()


def defused(cell: str) -> str:
    """Give a text as a cell that a spreadsheet can't take for a formula; `restored` gives the text again.

    >>> defused("=1+1"), defused("acetone"), restored(defused("'=1"))
    ("'=1+1", 'acetone', "'=1")
    """
    return f"'{cell}" if _FORMULA.match(cell) else cell


def restored(cell: str) -> str:
    """Give the text of a cell that may have been defused."""
    return cell[1:] if cell.startswith("'") and _FORMULA.match(cell) else cell


def _plain(cell: str) -> str:
    """Give the cell with an ordinary minus sign, and without blanks between thousands."""
    cell = signed(cell)
    return re.sub(r"[ \u00a0\u202f\u2009'’]", "", cell) if _SPACED.fullmatch(cell) else cell


def text_of(content: bytes, where: str) -> str:
    """Read a file that a spreadsheet or a logger wrote: UTF-8, marked UTF-16, or a workbook; else BadInput."""
    if len(content) > _LONGEST:
        raise BadInput(where, f"has more than {_LONGEST // 1_000_000} MB", "split it")
    if is_workbook(content):
        return text_in(content, where)
    encoding = "utf-16" if content[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"
    try:
        text = content.decode(encoding)
    except UnicodeDecodeError as error:
        row = content[: error.start].count(b"\n") + 1
        raise BadInput(f"{where}: row {row}", "is not text in UTF-8", "save it as 'CSV UTF-8'") from None
    if "\0" in text:
        raise BadInput(where, "holds bytes that are no text", "save it as 'CSV UTF-8'")
    return text


def columns_of(text: str, known: Collection[str]) -> tuple[str, tuple[str, ...]]:
    """Give the separator of a table and its header, in lower case: the reading that recognises most columns."""
    lines = text.splitlines()
    first = next((line for line in lines if line.strip() and not line.lower().startswith("sep=")), "")
    readings = [(separator, tuple(map(column_name, _cells(first, separator)))) for separator in _SEPARATORS]
    return max(readings, key=lambda reading: (sum(name in known for name in reading[1]), len(reading[1])))


def _cells(line: str, separator: str) -> list[str]:
    """Give the cells of a header; none where one is longer than any is."""
    try:
        return next(csv.reader([line], delimiter=separator), [])
    except csv.Error:
        return []


def read(
    content: bytes,
    where: str,
    known: Collection[str],
    required: Collection[str],
    numeric: tuple[str, ...] = (),
    others: bool = False,
    layout: Layout = PLAIN,
) -> Table:
    """Give the table in `content`. Raises BadInput or Faults where it has no usable header or its rows don't fit it.

    `known` are the columns that there may be, `required` those that there must be, `numeric` those that hold
    numbers; with `others`, columns that aren't known are let be. `layout` says what the file calls its columns.
    """
    text = text_of(content, where)
    separator, written = columns_of(text, {*known, *layout.read_as})
    columns = tuple(layout.read_as.get(name, name) for name in written)
    table = Table(where, separator, columns, [], numeric=numeric, layout=layout)
    if not any(columns):
        said = "has no header that can be read" if text.strip() else "is empty"
        raise BadInput(where, said, f"it needs a header line: {','.join(known)}")
    for name in layout.must:
        if column_name(name) not in written:
            table.faults.append(BadInput(where, f"has no column '{name}'", f"its columns are {', '.join(written)}"))
    _check_header(table, columns if others else (*known, *(f"({one})" for one in layout.skipped)), required)
    try:
        for number, cells in enumerate(csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True), 1):
            _add(table, number, [restored(cell.strip()) for cell in cells])
    except csv.Error as error:
        place = f"{where}: row {(table.rows[-1].number if table.rows else 1) + 1}"
        raise BadInput(place, f"can't be read as a table ({error})", "look for a quote that isn't closed") from None
    table.rows = table.rows[1:]
    table.close()
    return table


def _check_header(table: Table, known: Collection[str], required: Collection[str]) -> None:
    header = Row(1, {})
    for name in dict.fromkeys(table.columns):
        if name and name not in known:
            mend = nearest(name, known) or f"columns are {', '.join(known)}"
            table.fault(header, name, "is not a column that is known", mend)
        if name and table.columns.count(name) > 1:
            table.fault(header, name, "is there twice")
    for name in required:
        if name not in table.columns:
            table.fault(header, name, "is missing", f"columns are {', '.join(known)}")
    table.close()


def _add(table: Table, number: int, cells: list[str]) -> None:
    """Add a row of cells, the header too; rows that are all empty, or name the separator, are left out."""
    if not any(cells) or (len(table.rows) == 0 and cells[0].lower().startswith("sep=")):
        return
    row = Row(number, {name: cell for name, cell in zip(table.columns, cells, strict=False) if name})
    if table.rows and len(cells) < len(table.columns):
        table.fault(row, "", f"has {len(cells)} cells of {len(table.columns)}", "leave a cell empty, not out")
    beyond = [
        cell for name, cell in zip((*table.columns, *[""] * len(cells)), cells, strict=False) if not name and cell
    ]
    if table.rows and beyond:
        mend = "a cell with the separator in it needs quotes"
        table.fault(row, "", f"has more cells than the header ({', '.join(beyond)[:40]})", mend)
    table.rows.append(row)
