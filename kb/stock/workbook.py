"""Workbooks (XLSX) beside CSV: the first sheet of one as a table in text, and a table in text as a workbook.

>>> table = "item,lot,quantity\\r\\nacetone,A-17,2.5\\r\\n"
>>> text_in(workbook_of(table, "shelf"), "shelf.xlsx") == table
True
"""

from __future__ import annotations

import csv
import datetime
import io
import re
import zipfile
from collections.abc import Iterable, Iterator
from typing import Any

from kb.base.errors import BadInput

#: How a workbook begins, and how one of the form before it does.
MARK, _OLD_MARK = b"PK\x03\x04", b"\xd0\xcf\x11\xe0"
#: More is no shelf list; unpacked a small file may hold far more than it seems.
_MOST_BYTES, _MOST_CELLS = 200_000_000, 5_000_000
#: A table that was made from the same rows has the same bytes: no time of making stands in it.
_NO_TIME = (1980, 1, 1, 0, 0, 0)
_MADE = re.compile(rb"(<dcterms:(created|modified)[^>]*>)[^<]*(</dcterms:)")
#: What a spreadsheet shows as it was written; longer ones are numbers of products.
_NUMBER = re.compile(r"-?(?:0|[1-9]\d{0,9})(?:\.\d*[1-9])?", re.ASCII)


def is_workbook(content: bytes) -> bool:
    """Tell whether bytes are those of a workbook, of the form of today or the one before."""
    return content.startswith((MARK, _OLD_MARK))


def text_in(content: bytes, where: str) -> str:
    """Read the first sheet as text: dates in ISO form, numbers with a point. BadInput where it can't be read."""
    if content.startswith(_OLD_MARK):
        raise BadInput(where, "is a workbook of the old form", "save it as .xlsx, or as 'CSV UTF-8'")
    out = io.StringIO()
    csv.writer(out).writerows([_said(cell) for cell in row] for row in _rows(content, where))
    return out.getvalue()


def _rows(content: bytes, where: str) -> Iterator[Iterable[Any]]:
    from openpyxl import load_workbook

    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            size = sum(part.file_size for part in packed.infolist())
        if size > _MOST_BYTES:
            raise BadInput(where, f"unpacks to more than {_MOST_BYTES // 1_000_000} MB", "split it")
        sheet = load_workbook(io.BytesIO(content), read_only=True, data_only=True, keep_links=False).worksheets[0]
        # What a sheet says of its own size may be wrong, or be a million empty rows.
        sheet.reset_dimensions()
        cells = 0
        for row in sheet.iter_rows(values_only=True):
            cells += len(row)
            if cells > _MOST_CELLS:
                raise BadInput(where, f"has more than {_MOST_CELLS} cells", "split it")
            yield row
    except BadInput:
        raise
    except Exception:
        # The library says in a dozen ways that a file is damaged, locked or of another program.
        raise BadInput(where, "is no workbook that can be read", "save it anew as .xlsx, or as 'CSV UTF-8'") from None


def _said(value: Any) -> str:
    """Give a cell as text.

    >>> _said(datetime.datetime(2027, 3, 1)), _said(2.0), _said(0.1), _said(None)
    ('2027-03-01', '2', '0.1', '')
    """
    if value is None:
        return ""
    if isinstance(value, datetime.datetime):
        midnight = value.time() == datetime.time()
        return value.date().isoformat() if midnight else value.isoformat(timespec="seconds")
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    return str(value)


def workbook_of(table: str, title: str) -> bytes:
    """Give a table in text as a workbook of one sheet: its head in bold and fixed, numbers as numbers."""
    from openpyxl import Workbook
    from openpyxl.styles import Font

    book = Workbook(write_only=False)
    sheet = book.active
    assert sheet is not None
    sheet.title = re.sub(r"[\[\]:*?/\\]", " ", title)[:31] or "table"
    for row in csv.reader(io.StringIO(table)):
        sheet.append([float(cell) if _NUMBER.fullmatch(cell) else cell for cell in row])
    for row in sheet.iter_rows():
        for cell in row:
            if cell.data_type == "f":  # what a text begins with makes no formula of it
                cell.data_type = "s"
    for cell in sheet[1]:
        cell.font = Font(bold=True)
    sheet.freeze_panes = "A2"
    made = io.BytesIO()
    book.save(made)
    return _timeless(made.getvalue())


def _timeless(content: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as made, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for part in made.infolist():
            data = _MADE.sub(rb"\g<1>1980-01-01T00:00:00Z\g<3>", made.read(part))
            packed.writestr(zipfile.ZipInfo(part.filename, _NO_TIME), data, zipfile.ZIP_DEFLATED)
    return out.getvalue()
