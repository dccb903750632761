"""The lab's own documents: edited freely, never half written, and refused where a person broke the file."""

from __future__ import annotations

import json
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import pytest

from kb.base.documents import NAME, Documents
from kb.base.errors import BadInput


def test_a_document_replaces_the_one_of_its_key(tmp_path: Path) -> None:
    lab = Documents(tmp_path)
    lab.put("prices", "item", {"item": "a", "price": 1})
    lab.put("prices", "item", {"item": "b", "price": 2})
    lab.put("prices", "item", {"item": "a", "price": 3})
    assert lab.rows("prices") == [{"item": "a", "price": 3}, {"item": "b", "price": 2}]
    assert lab.rows("words") == []


def test_tables_are_apart(tmp_path: Path) -> None:
    lab = Documents(tmp_path)
    for table in ("words", "forms"):
        lab.put(table, "name", {"name": "x", "of": table})
    assert lab.take_away("words", "name", "x")
    assert not lab.take_away("words", "name", "x")
    assert (lab.rows("words"), lab.rows("forms")) == ([], [{"name": "x", "of": "forms"}])


def test_what_is_given_out_is_taken_in(tmp_path: Path) -> None:
    lab, other = Documents(tmp_path / "a"), Documents(tmp_path / "b")
    lab.put("words", "words", {"words": "das Blaue – «ü»", "item": "acetone"})
    lab.put("products", "gtin", {"gtin": "04012345123456", "item": "acetone"})
    other.take_in(lab.everything())
    assert other.everything() == lab.everything() != {}


def test_looking_makes_no_file(tmp_path: Path) -> None:
    assert Documents(tmp_path / "lab").everything() == {}
    assert not (tmp_path / "lab").exists()


def test_a_person_may_edit_the_file(tmp_path: Path) -> None:
    (tmp_path / NAME).write_text(json.dumps({"words": {"1": {"words": "blue", "item": "acetone"}}}))
    lab = Documents(tmp_path)
    lab.put("words", "words", {"words": "red", "item": "ethanol"})
    assert [row["words"] for row in lab.rows("words")] == ["blue", "red"]


@pytest.mark.parametrize("content", [b"", b"{", b"[]", b'{"words": []}', b'{"words": {"1": 7}}', b"\xff", b"[" * 9999])
def test_a_file_that_was_edited_amiss_is_refused_and_kept(tmp_path: Path, content: bytes) -> None:
    (tmp_path / NAME).write_bytes(content)
    lab = Documents(tmp_path)
    writes: dict[str, Any] = {"words": "x", "item": "y"}
    for act in (lab.everything, lambda: lab.rows("words"), lambda: lab.put("words", "words", writes)):
        with pytest.raises(BadInput, match=NAME):
            act()
    assert (tmp_path / NAME).read_bytes() == content


def _writes(folder: str, name: str) -> None:
    for number in range(20):
        Documents(Path(folder)).put("words", "words", {"words": f"{name} {number}", "item": "x"})


def test_none_is_lost_where_many_write(tmp_path: Path) -> None:
    context = get_context("fork")
    writers = [context.Process(target=_writes, args=(str(tmp_path), name)) for name in "abc"]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
        assert writer.exitcode == 0
    assert len(Documents(tmp_path).rows("words")) == 60
