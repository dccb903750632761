"""A page as PDF where something can make one; else a line that says how, and no file of another kind by that name."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from kb.base.errors import BadInput
from kb.report.pdf import pdf_of
from tests.test_cli import run

JOB = Path(__file__).parents[2] / "generic_catalog" / "demo" / "1-board.toml"


def test_without_what_writes_pdf_it_says_how(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    with pytest.raises(BadInput, match=r"a\.pdf: can't be made: .* install tackroom\[pdf\]; or write \.html"):
        pdf_of("<p>x</p>", "a.pdf")


def test_a_page_is_given_whole_and_nothing_is_fetched_for_it(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: dict[str, Any] = {}

    class Html:
        def __init__(self, string: str, url_fetcher: Any) -> None:
            asked["page"], asked["fetch"] = string, url_fetcher

        def write_pdf(self) -> bytes:
            asked["time"] = os.environ.get("SOURCE_DATE_EPOCH")
            return b"%PDF"

    monkeypatch.delenv("SOURCE_DATE_EPOCH", raising=False)
    monkeypatch.setitem(sys.modules, "weasyprint", SimpleNamespace(HTML=Html))
    assert pdf_of("<p>x</p>", "a.pdf") == b"%PDF"
    assert asked["page"] == "<p>x</p>"
    assert asked["time"], "the same page has the same bytes"
    assert "SOURCE_DATE_EPOCH" not in os.environ
    with pytest.raises(ValueError, match="is not read"):
        asked["fetch"]("http://somewhere/")


@pytest.mark.parametrize(
    ("words", "name"),
    [(["sheet", str(JOB)], "x.docx"), (["picture", "timeline", str(JOB)], "x.png"), (["stock", "labels"], "x.png")],
)
def test_no_file_is_written_under_the_name_of_another_kind(words: list[str], name: str, tmp_path: Path) -> None:
    done = run(*words, "-o", str(tmp_path / name), TACKROOM_WORKSPACE=str(tmp_path))
    assert (done.returncode, "name the file accordingly" in done.stderr) == (2, True)
    assert not (tmp_path / name).exists()
