"""Answers in files: named by what they hold, written as they are, and refused in one line where that can't be."""

from __future__ import annotations

from pathlib import Path

import pytest
import typer

from kb.base.errors import BAD_INPUT, BadInput
from kb.cli.files import every_fault, must_end_in, put, put_page, put_table
from kb.stock.tables import Faults
from kb.stock.workbook import text_in


def test_without_a_file_it_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    put("one\n", None, (".svg",))
    put(b"two\n", None)
    assert capsys.readouterr().out == "one\ntwo\n"


def test_line_ends_stay_as_they_are(tmp_path: Path) -> None:
    put("a,b\r\n", tmp_path / "x.csv", (".csv",))
    assert (tmp_path / "x.csv").read_bytes() == b"a,b\r\n"


def test_a_name_says_what_is_in_the_file(tmp_path: Path) -> None:
    must_end_in(tmp_path / "X.SVG", (".svg",))
    must_end_in(None, (".svg",))
    with pytest.raises(BadInput, match=r"x\.png: its name must end in \.svg"):
        put("<svg/>", tmp_path / "x.png", (".svg",))
    with pytest.raises(BadInput, match=r"\.html or \.htm or \.pdf"):
        put_page("<p>", tmp_path / "x.txt")
    with pytest.raises(BadInput, match=r"\.csv or \.xlsx"):
        put_table("a\r\n", tmp_path / "x.ods", "shelf")
    assert not list(tmp_path.iterdir()), "nothing is written under a wrong name"


def test_a_table_becomes_a_workbook_by_its_name(tmp_path: Path) -> None:
    table = "item,lot\r\nacetone,A-17\r\n"
    put_table(table, tmp_path / "x.xlsx", "shelf")
    assert text_in((tmp_path / "x.xlsx").read_bytes(), "x.xlsx") == table


def test_what_can_t_be_written_is_one_line(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="can't be written: No such file or directory; name another file"):
        put("x", tmp_path / "none" / "x.csv")


def test_each_fault_of_a_file_has_a_line(capsys: pytest.CaptureFixture[str]) -> None:
    found = [BadInput(f"in.csv: row {row}", "is wrong", "mend it") for row in (2, 3)]
    with pytest.raises(typer.Exit) as ended, every_fault():
        raise Faults("in.csv", found)
    assert ended.value.exit_code == BAD_INPUT
    assert capsys.readouterr().err == "in.csv: row 2: is wrong; mend it\nin.csv: row 3: is wrong; mend it\n"
