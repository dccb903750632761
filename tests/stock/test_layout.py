"""The lab's own lists: their columns and dates are read as the lab said, for one list or for all that follow."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from kb.base.errors import BadInput
from kb.knowledge import load
from kb.stock.interchange import brought
from kb.stock.items import Items
from kb.stock.layout import Layout, forget, layout_of, remember, remembered
from kb.stock.shelf_list import COLUMNS, FURTHER
from kb.stock.stores import Document
from kb.stock.tables import Faults

ITEMS = Items(load())
KNOWN = (*COLUMNS, *FURTHER)
LIST = b"Material;Batch/No;Amount (left);Unit;Use by;Price\nacetone;AC-7;1,5;L;3/4/2027;9\nethanol;E-1;500;mL;;7\n"
OWN = ["item=Material", "lot=Batch/No", "quantity=Amount (left)", "expires=Use by"]


def read(content: bytes, layout: Layout) -> list[Document]:
    return list(brought(content, "list.csv", ITEMS, "2027-03-01", "kim", layout).drafts)


@pytest.mark.parametrize(("dates", "day"), [("day-first", "2027-04-03"), ("month-first", "2027-03-04")])
def test_a_list_is_read_as_the_lab_writes_it(dates: str, day: str) -> None:
    first, second = read(LIST, layout_of(OWN, ["Price"], dates, KNOWN))
    assert (first["item"], first["lot"], first["quantity"], first["expires"]) == ("acetone", "AC-7", "1.5", day)
    assert (second["lot"], second.get("expires")) == ("E-1", None)


def test_a_fault_names_the_column_as_the_list_does() -> None:
    with pytest.raises(Faults) as faults:
        read(LIST.replace(b"3/4/2027", b"31/31/2027"), layout_of(OWN, ["Price"], "day-first", KNOWN))
    assert faults.value.where == "list.csv: row 2, column Use by"
    with pytest.raises(Faults, match="say how the list writes dates: --dates day-first"):
        read(LIST, layout_of(OWN, ["Price"], "iso", KNOWN))


def test_the_columns_that_there_may_be_are_told_in_their_order() -> None:
    with pytest.raises(Faults) as faults:
        read(b"name;lot;quantity;unit\nx;y;1;mL\n", layout_of([], ["Price"], "iso", KNOWN))
    assert any(", ".join(KNOWN[:5]) in fault.mend for fault in faults.value.each)


def test_what_is_told_of_this_list_must_be_in_it_and_what_is_remembered_need_not(tmp_path: Path) -> None:
    layout = layout_of(["item=Substance"], [], "iso", KNOWN)
    with pytest.raises(Faults, match="has no column 'Substance'"):
        read(LIST, layout)
    remember(tmp_path, layout_of([*OWN, "location=Shelf"], ["Price"], "day-first", KNOWN))
    kept = remembered(tmp_path, KNOWN)
    assert len(read(LIST, kept)) == 2
    plain = b"item,lot,quantity,unit,expires\nacetone,AC-8,1,L,2027-12-31\n"
    assert read(plain, kept)[0]["expires"] == "2027-12-31"
    assert forget(tmp_path)
    assert not forget(tmp_path)
    assert not remembered(tmp_path)


def test_what_is_told_later_counts() -> None:
    first = layout_of(["lot=Batch", "item=Name"], ["Price"], "day-first", KNOWN)
    both = first.and_(layout_of(["lot=Container", "location=Price"], [], "iso", KNOWN))
    assert both.theirs == {"lot": "Container", "item": "Name", "location": "Price"}
    assert (both.skipped, both.dates) == ((), "day-first")
    assert both.must == ("Container", "Price")


@pytest.mark.parametrize(
    ("columns", "skipped", "dates", "said"),
    [
        (["quantity"], [], "iso", "is not OURS=THEIRS"),
        (["=x"], [], "iso", "is not OURS=THEIRS"),
        (["quantty=x"], [], "iso", "did you mean 'quantity'"),
        (["lot=a", "lot=b"], [], "iso", "named twice"),
        (["lot=" + "x" * 81], [], "iso", "no name of a column"),
        ([], ["\x1b[1m"], "iso", "no name of a column"),
        ([], [], "american", "no way to write dates"),
    ],
)
def test_a_slip_is_refused(columns: list[str], skipped: list[str], dates: str, said: str) -> None:
    with pytest.raises(BadInput, match=said):
        layout_of(columns, skipped, dates, KNOWN)


@pytest.mark.parametrize("row", [{"columns": 7}, {"dates": "roman"}, {"columns": {"nothing": "x"}}])
def test_a_document_that_was_edited_amiss_is_named(tmp_path: Path, row: dict[str, object]) -> None:
    (tmp_path / "documents.json").write_text(json.dumps({"settings": {"1": {"name": "import-layout", **row}}}))
    with pytest.raises(BadInput, match="stock layout --forget"):
        remembered(tmp_path, KNOWN)
    assert forget(tmp_path)
