"""Workbooks in and out: the same rows as CSV gives, the same bytes each time, and one line for what is no workbook."""

from __future__ import annotations

import datetime
import io
import random
import zipfile
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook, load_workbook

from kb.base.errors import BadInput
from kb.stock import workbook
from kb.stock.tables import read, text_of
from kb.stock.workbook import text_in, workbook_of

TABLE = "item,lot,quantity,expires\r\nacetone,0017,2.5,2027-03-01\r\n=1+1,04012345678901,1.50,\r\n"


def book(*rows: tuple[object, ...]) -> bytes:
    made, out = Workbook(), io.BytesIO()
    sheet = made.active
    assert sheet is not None
    for row in rows:
        sheet.append(row)
    made.save(out)
    return out.getvalue()


def test_a_table_comes_back_as_it_was_to_the_letter() -> None:
    made = workbook_of(TABLE, "shelf")
    assert text_in(made, "x.xlsx") == TABLE
    assert text_of(made, "x.xlsx") == TABLE
    assert workbook_of(TABLE, "shelf") == made
    sheet = load_workbook(io.BytesIO(made)).active
    assert sheet is not None
    assert sheet["C2"].value == 2.5, "a number that a spreadsheet can add up"
    assert (sheet["A3"].value, sheet["A3"].data_type) == ("=1+1", "s"), "a text, and no formula"


def test_what_a_spreadsheet_holds_is_read_as_a_table() -> None:
    content = book(
        ("Item", "Lot", "Quantity", "Expires", None),
        ("acetone", 17, 1234.0, datetime.datetime(2027, 3, 1), None),
        (None, None, None, None, None),
        ("ethanol", "E-1", 0.5, datetime.date(2028, 12, 31), None),
    )
    table = read(content, "x.xlsx", ("item", "lot", "quantity", "expires"), ("item",), ("quantity",))
    assert [list(row.cells.values()) for row in table.rows] == [
        ["acetone", "17", "1234", "2027-03-01"],
        ["ethanol", "E-1", "0.5", "2028-12-31"],
    ]
    assert [row.number for row in table.rows] == [2, 4]
    assert [str(table.number(row, "quantity")) for row in table.rows] == ["1234", "0.5"]


def test_what_is_no_workbook_is_one_line() -> None:
    good = book(("item",), ("acetone",))
    draw = random.Random(1)
    broken = [good[: draw.randrange(5, len(good))] for _ in range(25)]
    broken += [bytes(b ^ (draw.random() < 0.01) for b in good[:4000]) for _ in range(5)]
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as other:
        other.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
    for content in (*broken, packed.getvalue(), b"PK\x03\x04", b"\xd0\xcf\x11\xe0old"):
        if content.startswith((workbook.MARK, b"\xd0")):
            with pytest.raises(BadInput, match=r"x\.xlsx: .*save it"):
                text_in(content, "x.xlsx")


def test_what_unpacks_to_too_much_is_refused_before_it_is_unpacked(monkeypatch: pytest.MonkeyPatch) -> None:
    content = book(("item",), *[("acetone",)] * 50)
    monkeypatch.setattr(workbook, "_MOST_CELLS", 20)
    with pytest.raises(BadInput, match="more than 20 cells"):
        text_in(content, "x.xlsx")
    monkeypatch.setattr(workbook, "_MOST_BYTES", 1000)
    with pytest.raises(BadInput, match="unpacks to more"):
        text_in(content, "x.xlsx")


def test_a_shelf_goes_out_as_a_workbook_and_comes_in_elsewhere(tmp_path: Path) -> None:
    from tests.test_cli import run

    rows = "item,lot,quantity,unit,expires\nacetone,A-1,500,mL,2028-01-01\n"
    (tmp_path / "in.csv").write_text(rows)
    first: dict[str, Any] = {"TACKROOM_WORKSPACE": str(tmp_path / "a")}
    second: dict[str, Any] = {"TACKROOM_WORKSPACE": str(tmp_path / "b")}
    for folder in "ab":
        (tmp_path / folder).mkdir()
    day: dict[str, Any] = {"TACKROOM_TODAY": "2027-03-01", "TACKROOM_WHO": "kim"}
    assert run("stock", "import", str(tmp_path / "in.csv"), **first, **day).returncode == 0
    out = str(tmp_path / "shelf.xlsx")
    assert run("stock", "export", "--shelf", "-o", out, **first, **day).returncode == 0
    done = run("stock", "import", out, **second, **day)
    assert done.returncode == 0, done.stderr
    shelves = [run("stock", "export", "--shelf", **where, **day).stdout for where in (first, second)]
    assert shelves[0] == shelves[1]
    refused = run("stock", "export", "--shelf", "-o", str(tmp_path / "shelf.ods"), **first, **day)
    assert (refused.returncode, "its name must end in .csv or .xlsx" in refused.stderr) == (2, True)
