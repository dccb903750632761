"""Files in and out: whatever a spreadsheet makes of them, back to the same history, and a whole workspace carried."""

from __future__ import annotations

import csv
import io
import json
import re
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.base.documents import Documents
from kb.base.errors import BadInput
from kb.stock.history_table import COLUMNS as HISTORY_COLUMNS
from kb.stock.history_table import SCHEMA, table_of
from kb.stock.interchange import Brought, brought, take_in
from kb.stock.ledger import Ledger
from kb.stock.portable import everything
from kb.stock.shelf_list import shelf_csv
from kb.stock.stores import Document
from kb.stock.tables import Faults
from kb.stock.workspace import ledger_of
from kb.work.checking import verify
from kb.work.forms import checked
from kb.work.recording import record as record_work
from kb.work.reserving import reserve
from tests.stock.factory import TODAY, AnyItem, in_memory, received, record, used
from tests.stock.test_fold import drafts as any_draft
from tests.stock.test_fold import whatever_is_allowed

HEADER = "item,lot,quantity,unit,received,made,expires,opened,storage_c,location"
ROWS = (
    "acetone,A-1,500,mL,2027-01-10,2026-12-01,2028-12-01,,21,flammables cabinet",
    "ethyl cyanoacrylate,CA-7,20,g,2027-01-10,,2027-12-31,2027-02-01,5,fridge",
)
GOOD = "\n".join((HEADER, *ROWS)) + "\n"


class Two(AnyItem):
    """Knows two items, and the unit of each."""

    def resolve(self, words: str) -> str:
        known = {"acetone": "acetone", "ethyl cyanoacrylate": "ethyl-cyanoacrylate-low"}
        if words not in known:
            raise BadInput("", f"'{words}' is no item that is known", "did you mean 'acetone'?")
        return known[words]

    def amount(self, item: str, quantity: Any, unit: str) -> tuple[str, str]:
        if unit not in ("mL", "ml", "g"):
            raise BadInput("unit", f"'{unit}' does not convert to mL", "give it in mL")
        return super().amount(item, quantity, unit)


def bring(content: str | bytes, where: str = "in.csv", items: AnyItem | None = None) -> Brought:
    raw = content.encode() if isinstance(content, str) else content
    return brought(raw, where, items or Two(), at="2027-03-01", who="kim")


def read(content: str | bytes) -> list[dict[str, Any]]:
    return list(bring(content).drafts)


def into(ledger: Ledger, found: Brought, write: bool = True) -> list[Document]:
    return take_in(found, ledger, Path("nowhere"), TODAY, checked, write=write)


def shelf(content: str | bytes) -> Ledger:
    ledger = in_memory()
    into(ledger, bring(content))
    return ledger


def test_a_row_becomes_a_receipt_and_an_opening() -> None:
    events = shelf(GOOD).documents("stock")
    assert [(e["type"], e["lot"], e["at"]) for e in events] == [
        ("received", "A-1", "2027-01-10"),
        ("received", "CA-7", "2027-01-10"),
        ("opened", "CA-7", "2027-02-01"),
    ]
    assert events[1]["item"] == "ethyl-cyanoacrylate-low"
    assert (events[1]["storage_c"], events[1]["location"], events[1]["expires"]) == (5.0, "fridge", "2027-12-31")


def semicolons(text: str) -> str:
    return text.replace(",", ";")


LIKE_GOOD = {
    "byte order mark": ("\ufeff" + GOOD).encode(),
    "carriage returns": GOOD.replace("\n", "\r\n"),
    "old carriage returns": GOOD.replace("\n", "\r"),
    "semicolons": semicolons(GOOD),
    "tabs": GOOD.replace(",", "\t"),
    "a separator named first": "sep=;\r\n" + semicolons(GOOD),
    "UTF-16": GOOD.replace(",", "\t").encode("utf-16"),
    "capitals and blanks in the header": GOOD.replace("storage_c", " Storage C ").replace("item", "Item"),
    "quotes round everything": "\n".join('"' + line.replace(",", '","') + '"' for line in GOOD.splitlines()),
    "empty rows and columns": GOOD.replace("\n", ",,\n") + ",,,,,,,,,,,\n\n",
    "columns in another order": "\n".join(
        ",".join([*cells[5:], *cells[:5]]) for cells in (line.split(",") for line in GOOD.splitlines())
    ),
    "decimal commas with semicolons": semicolons(GOOD).replace(";500;", ";500,0;").replace(";5;", ";5,0;"),
    "a time of midnight": GOOD.replace("2027-01-10", "2027-01-10 00:00:00"),
    "a unit spelt out": GOOD.replace(",mL,", ",ml,"),
    "no last line end": GOOD.rstrip("\n"),
}


@pytest.mark.parametrize("content", LIKE_GOOD.values(), ids=LIKE_GOOD.keys())
def test_the_same_from_whatever_wrote_it(content: str | bytes) -> None:
    assert shelf(content).documents("stock") == shelf(GOOD).documents("stock")


NUMBERS = {
    "a comma alone, one digit": ("2,5", "2.5"),
    "a comma alone, two digits": ("2,50", "2.5"),
    "nought before the comma": ("0,125", "0.125"),
    "points for thousands": ("1.250,5", "1250.5"),
    "blanks for thousands": ("1 250,5", "1250.5"),
    "narrow blanks": ("1\u202f250", "1250"),
    "apostrophes": ("1'250.5", "1250.5"),
    "a plain point": ("2.5", "2.5"),
    "three digits and a comma": ("1,250", None),
    "three digits and a point": ("1.250", None),
    "two points": ("1.250.000", None),
    "an exponent": ("1E+03", None),
    "a unit": ("5 mL", None),
    "two signs": ("--5", None),
    "other digits": ("٣", None),
    "a formula": ("=2+3", None),
    "nought": ("0", None),
    "negative": ("-5", None),
}


@pytest.mark.parametrize("case", NUMBERS.values(), ids=NUMBERS.keys())
def test_numbers_in_a_file_with_semicolons(case: tuple[str, str | None]) -> None:
    cell, value = case
    content = f"item;lot;quantity;unit\nacetone;A;{cell};mL\n"
    if value is None:
        with pytest.raises(Faults, match=r"in.csv: row 2, column quantity: "):
            read(content)
    else:
        assert read(content)[0]["quantity"] == value


def test_the_rest_of_the_file_tells_which_sign_is_meant() -> None:
    head = "item;lot;quantity;unit\nacetone;A;1,250;mL\n"
    assert read(head + "acetone;B;2,5;mL\n")[0]["quantity"] == "1.25"
    with pytest.raises(Faults):
        read(head + "acetone;B;2.5;mL\n")
    assert read("item,lot,quantity,unit\nacetone,A,1.250,mL\n")[0]["quantity"] == "1.25"


FAULTS = {
    "nothing": ("", "in.csv: is empty; it needs a header line: item,lot,quantity,"),
    "no rows": (HEADER, "in.csv: has no rows"),
    "a header without end": (HEADER + "," + "x" * 200_000, "in.csv: has no header that can be read"),
    "brackets without end": ("[" * 200_000, "in.csv: has no header that can be read"),
    "no header": (ROWS[0], "in.csv: row 1, column acetone: is not a column that is known"),
    "an unknown column": (
        GOOD.replace("location", "locaton"),
        "in.csv: row 1, column locaton: is not a column that is known; did you mean 'location'?",
    ),
    "a column twice": (GOOD.replace("made", "received"), "in.csv: row 1, column received: is there twice"),
    "a column missing": (GOOD.replace("lot,", ""), "in.csv: row 1, column lot: is missing"),
    "a short row": (HEADER + "\nacetone,A\n", "in.csv: row 2: has 2 cells of 10; leave a cell empty, not out"),
    "a comma too many": (
        GOOD.replace(",500,", ",0,5,"),
        "in.csv: row 2: has more cells than the header (flammables cabinet)",
    ),
    "an unknown item": (
        GOOD.replace("acetone", "acetome"),
        "in.csv: row 2, column item: 'acetome' is no item that is known; did you mean 'acetone'?",
    ),
    "an item left out": (GOOD.replace("acetone", ""), "in.csv: row 2, column item: is empty"),
    "a date of another kind": (
        GOOD.replace("2028-12-01", "01/12/2028"),
        "in.csv: row 2, column expires: '01/12/2028' is not an ISO date",
    ),
    "a day that isn't": (GOOD.replace("2028-12-01", "2027-02-29"), "in.csv: row 2, column expires: '2027-02-29' is no"),
    "expired before made": (GOOD.replace("2028-12-01", "2026-11-30"), "row 2, column expires: 2026-11-30 is before"),
    "opened before received": (
        GOOD.replace("2027-02-01", "2027-01-09"),
        "in.csv: row 3, column opened: 2027-01-09 is before it was received (2027-01-10)",
    ),
    "the same lot twice": (
        GOOD.replace("CA-7", "A-1"),
        "in.csv: row 3, column lot: 'A-1' is in row 2 already; each row needs a lot of its own",
    ),
    "a unit of no sense": (GOOD.replace(",mL,", ",sheet,"), "row 2, column unit: 'sheet' does not convert to mL; give"),
    "colder than cold": (GOOD.replace(",21,", ",-300,"), "in.csv: row 2, column storage_c: "),
    "a lot too long": (GOOD.replace("A-1", "A" * 61), "in.csv: row 2, column lot: "),
    "a quote not closed": (GOOD.replace("A-1", '"A-1'), "can't be read as a table"),
    "Latin-1": (GOOD.replace("cabinet", "caf\xe9").encode("latin-1"), "in.csv: row 2: is not text in UTF-8"),
    "a zip file": (b"PK\x03\x04\x00\x00", "in.csv: is no workbook that can be read"),
}


@pytest.mark.parametrize("case", FAULTS.values(), ids=FAULTS.keys())
def test_faults_name_row_and_column(case: tuple[str | bytes, str]) -> None:
    content, said = case
    with pytest.raises(BadInput) as refused:
        bring(content)
    assert said in str(refused.value)
    assert "\n" not in str(refused.value)


def test_all_faults_are_told_at_once_and_nothing_is_recorded() -> None:
    content = GOOD.replace("acetone", "acetome").replace("500", "x").replace("2027-12-31", "soon")
    with pytest.raises(Faults) as refused:
        read(content)
    assert [fault.where for fault in refused.value.each] == [
        "in.csv: row 2, column quantity",
        "in.csv: row 2, column item",
        "in.csv: row 3, column expires",
    ]
    assert "(and 2 more faults; nothing was recorded)" in str(refused.value)


def test_a_lot_that_is_there_already_keeps_the_whole_file_out() -> None:
    store = in_memory()
    record(store, [received("CA-7")])
    with pytest.raises(Faults, match="lot CA-7: is there already"):
        into(store, bring(GOOD))
    with pytest.raises(Faults):
        into(store, bring(GOOD), write=False)
    assert len(store.documents("stock")) == 1


def test_a_dry_run_writes_nothing() -> None:
    store = in_memory()
    assert [event.get("id") for event in into(store, bring(GOOD), write=False)] == [None] * 3
    assert store.documents("stock") == []


def test_a_lot_of_unknown_receipt_is_dated_by_what_is_known() -> None:
    content = "item,lot,quantity,unit,opened\nacetone,A,5,mL,2027-02-01\nacetone,B,5,mL,\n"
    events = read(content)
    assert [(e["at"], e.get("received")) for e in events if e["type"] == "received"] == [
        ("2027-02-01", None),
        ("2027-03-01", None),
    ]


def test_a_shelf_list_goes_out_and_comes_back_to_the_same_shelf() -> None:
    store = shelf(GOOD)
    record(store, [used("A-1", "0.25"), used("CA-7", "20", "g")])
    out = shelf_csv(store.shelf().lots.values())
    assert out.splitlines()[0] == HEADER
    back = in_memory()
    into(back, bring(out, items=AnyItem()))
    now, then = back.shelf().lots, store.shelf().lots
    assert list(now) == ["A-1"], "what is empty is not on the shelf"
    same: dict[str, Any] = {"last_at": "", "begun": 0, "events": 0, "used": ()}
    assert now["A-1"]._replace(**same) == then["A-1"]._replace(**same)


def history_json(events: list[Document]) -> str:
    """As an earlier version gave a history out."""
    return json.dumps({"schema": SCHEMA, "events": events})


def saved_again(content: str, decimal_commas: bool = False) -> bytes:
    """As a spreadsheet would save the file: with tabs as Unicode text, or with semicolons and decimal commas."""
    rows = [list(row) for row in csv.reader(io.StringIO(content, newline=""))]
    if decimal_commas:
        rows = [[re.sub(r"^(-?\d+)\.(\d+)$", r"\1,\2", cell) for cell in row] for row in rows]
    out = io.StringIO()
    csv.writer(out, delimiter=";" if decimal_commas else "\t").writerows(rows)
    return ("\ufeff" + out.getvalue()).encode("utf-8" if decimal_commas else "utf-16-le")


@settings(max_examples=150)
@given(st.lists(any_draft(), min_size=1, max_size=25))
def test_any_history_goes_out_and_comes_back_the_same(sequence: list[dict[str, Any]]) -> None:
    store = whatever_is_allowed(sequence)
    events = store.documents("stock")
    if not events:
        return
    files = {
        "json": history_json(events).encode(),
        "csv": table_of(events).encode(),
        "spreadsheet": saved_again(table_of(events)),
    }
    for name, content in files.items():
        back = in_memory()
        into(back, bring(content, name))
        assert back.documents("stock") == events, name
        assert back.shelf() == store.shelf(), name


def test_every_field_of_an_event_has_its_column() -> None:
    from kb.stock import events as models

    fields = {name for model in models._MODELS.values() for name in model.model_fields}
    assert fields - {"record"} == set(HISTORY_COLUMNS), "a table holds no records that a use could belong to"


def test_a_logged_temperature_survives_a_spreadsheet() -> None:
    store = shelf(GOOD)
    logged = {"type": "temperature-logged", "at": "2027-03-01", "who": "kim", "lot": "CA-7", "location": "fridge"}
    figures = {"hours": 71.5, "low_c": -0.5, "high_c": 25.0, "mkt_c": 9.125, "spent_days": 0.000012}
    record(store, [{**logged, "since": "2027-02-01T00:10", "until": "2027-02-04", **figures, "excursion": "too hot"}])
    back = in_memory()
    content = saved_again(table_of(store.documents("stock")), decimal_commas=True)
    assert b";9,125;" in content
    into(back, bring(content))
    assert back.documents("stock") == store.documents("stock")


BROKEN = {
    "cut short": lambda text: text[: len(text) // 2],
    "another document": lambda _: '{"schema": "tackroom.stock/1", "lots": []}',
    "no list": lambda _: '{"schema": "tackroom.stock-history/1", "events": 7}',
    "nothing in it": lambda _: '{"schema": "tackroom.stock-history/1", "events": []}',
    "an event that is none": lambda _: '{"schema": "tackroom.stock-history/1", "events": ["used"]}',
    "an id twice": lambda text: text.replace('"id": 2', '"id": 1'),
    "an amount that is none": lambda text: text.replace('"500"', '"NaN"'),
    "a first event missing": lambda text: text.replace('"lot": "A-1"', '"lot": "Z"', 1).replace("opened", "used"),
    "infinity": lambda text: text.replace("21.0", "Infinity"),
    "nested without end": lambda _: '{"a":' * 100_000,
}


@pytest.mark.parametrize("breaking", BROKEN.values(), ids=BROKEN.keys())
def test_a_broken_history_is_one_line(breaking: Any) -> None:
    content = breaking(history_json(shelf(GOOD).documents("stock")))
    with pytest.raises(BadInput) as refused:
        into(in_memory(), bring(content))
    assert "\n" not in str(refused.value)


def test_a_history_goes_into_an_empty_workspace_only() -> None:
    content = history_json(shelf(GOOD).documents("stock"))
    store = in_memory()
    record(store, [received("other")])
    for write in (True, False):
        with pytest.raises(BadInput, match="a history goes into an empty workspace only"):
            into(store, bring(content), write=write)
    assert len(store.documents("stock")) == 1


def test_thousands_of_rows_go_in_as_one(tmp_path: Path) -> None:
    rows = "".join(f"acetone,L{n},5,mL,{date(2027, 1, 1).isoformat()},,,,,\n" for n in range(5000))
    into(ledger_of(tmp_path), bring(HEADER + "\n" + rows))
    assert len(ledger_of(tmp_path).documents("stock")) == 5000
    assert ledger_of(tmp_path).verify().problems == ()


# -- a whole workspace


def working(workspace: Path) -> Ledger:
    """A workspace with everything in it: events, a record with its draws, a reservation, documents, the lab's items."""
    ledger = ledger_of(workspace)
    record(ledger, [received("A", item="acetone"), received("B", batch="M-1"), used("A", "5", reason='a "proof"; ü')])
    made = [{"installation": n, "outcome": "pass", "lots": ["A"], "readings": {"zero_return_ue": 0.1}} for n in "12"]
    given = {"job": "J", "at": "2027-03-05", "who": "kim", "chain": {"adhesive": "x"}, "items": {"A": "acetone"}}
    draws = [{"lot": "A", "quantity": "2.5", "unit": "mL"}]
    record_work(ledger, {**given, "draws": draws, "installations": made}, TODAY)
    reserve(ledger, "J", [("B", Decimal(3), "mL")], "2027-03-06", "kim", TODAY)
    Documents(workspace).put("words", "words", {"words": "blue stuff", "item": "acetone"})
    Documents(workspace).put("prices", "item", {"item": "acetone", "price": "1.20"})
    house = workspace / "catalog" / "degreaser" / "drum.toml"
    house.parent.mkdir(parents=True)
    house.write_text('id = "drum"\nname = "drum ü"\nlike = "acetone"\n')
    return ledger


def carried(document: dict[str, Any], to: Path) -> Ledger:
    ledger = ledger_of(to)
    take_in(bring(json.dumps(document)), ledger, to, TODAY, checked)
    return ledger_of(to)


def test_everything_goes_out_and_comes_in_and_goes_on(tmp_path: Path) -> None:
    ledger = working(tmp_path / "a")
    given = everything(ledger, tmp_path / "a")
    there = carried(given, tmp_path / "b")
    assert everything(there, tmp_path / "b") == given
    assert there.standing() == ledger.standing(), "the same chain, the same shelf, the same numbers"
    assert (tmp_path / "b" / "catalog" / "degreaser" / "drum.toml").read_text().startswith('id = "drum"')
    for one in (ledger, there):
        record(one, [used("A", "1", at="2027-03-07")])
    assert there.standing() == ledger.standing()
    assert verify(there).problems == ()


def test_it_goes_into_an_empty_workspace_only(tmp_path: Path) -> None:
    given = everything(working(tmp_path / "a"), tmp_path / "a")
    record(tmp_path / "b", [received("X")])
    with pytest.raises(BadInput, match="workspace: has a ledger already"):
        carried(given, tmp_path / "b")
    Documents(tmp_path / "c").put("words", "words", {"words": "w", "item": "acetone"})
    with pytest.raises(BadInput, match=r"has documents\.json already"):
        carried(given, tmp_path / "c")
    assert ledger_of(tmp_path / "c").documents("stock") == []


def _without_last(given: dict[str, Any]) -> None:
    given["entries"].pop()


def _other_amount(given: dict[str, Any]) -> None:
    given["entries"][2]["document"]["quantity"] = "6"


def _other_outcome(given: dict[str, Any]) -> None:
    next(one for one in given["entries"] if one["stream"] == "work")["document"]["installations"][0]["outcome"] = "fail"


TAMPERED: dict[str, tuple[Any, str]] = {
    "the last entry gone": (_without_last, "its entries don't lead to its hash"),
    "an amount changed": (_other_amount, "its entries don't lead to its hash"),
    "an outcome changed": (_other_outcome, "its entries don't lead to its hash"),
    "no entries": (lambda given: given.pop("entries"), "holds no entries"),
    "an entry that is none": (lambda given: given["entries"].insert(0, 7), "entry 1: is no entry of a ledger"),
    "a stream that isn't": (lambda given: given["entries"][0].update(stream="x"), "entry 1: is no entry of a ledger"),
    "a type that isn't": (lambda given: given["entries"][0]["document"].update(type="x"), "'x' is not a type of event"),
    "first things gone": (lambda given: given["entries"].pop(0), "the history is not whole"),
    "tables that are none": (lambda given: given.update(documents={"words": 7}), "documents: are no tables"),
    "a file out of the way": (lambda given: given.update(files={"catalog/../../x.toml": ""}), "files: are no items"),
    "not canonical": (lambda given: given["entries"][0]["document"].update(quantity="5.0"), "not in the form in which"),
}


@pytest.mark.parametrize("case", TAMPERED.values(), ids=TAMPERED.keys())
def test_what_was_changed_on_the_way_is_refused_whole(case: tuple[Any, str], tmp_path: Path) -> None:
    change, said = case
    given = json.loads(json.dumps(everything(working(tmp_path / "a"), tmp_path / "a")))
    change(given)
    with pytest.raises(BadInput) as refused:
        carried(given, tmp_path / "b")
    assert said in str(refused.value)
    assert "\n" not in str(refused.value)
    assert not (tmp_path / "b").exists()
