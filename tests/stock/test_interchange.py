"""Files in and out: whatever a spreadsheet makes of them, and back again to the same history."""

from __future__ import annotations

import csv
import io
import json
import re
from datetime import date
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.base.errors import BadInput
from kb.stock.admission import record
from kb.stock.interchange import HISTORY_COLUMNS, drafts_in, history_csv, history_json, shelf_csv, take_in
from kb.stock.ledger import fold
from kb.stock.log.memory import MemoryStore
from kb.stock.tables import Faults
from tests.stock.factory import received, used
from tests.stock.test_ledger import drafts as any_draft
from tests.stock.test_ledger import whatever_is_allowed

HEADER = "item,lot,quantity,unit,received,made,expires,opened,storage_c,location"
ROWS = (
    "acetone,A-1,500,mL,2027-01-10,2026-12-01,2028-12-01,,21,flammables cabinet",
    "ethyl cyanoacrylate,CA-7,20,g,2027-01-10,,2027-12-31,2027-02-01,5,fridge",
)
GOOD = "\n".join((HEADER, *ROWS)) + "\n"


def resolve(words: str) -> str:
    known = {"acetone": "acetone", "ethyl cyanoacrylate": "ethyl-cyanoacrylate-low"}
    if words not in known:
        raise BadInput("", f"'{words}' is no item that is known", "did you mean 'acetone'?")
    return known[words]


def read(content: str | bytes) -> list[dict[str, Any]]:
    raw = content.encode() if isinstance(content, str) else content
    return drafts_in(raw, "in.csv", resolve, at="2027-03-01", who="kim")


def shelf(content: str | bytes) -> MemoryStore:
    store = MemoryStore()
    take_in(store, read(content), "in.csv")
    return store


def test_a_row_becomes_a_receipt_and_an_opening() -> None:
    events = shelf(GOOD).events()
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
    assert shelf(content).events() == shelf(GOOD).events()


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
    "a unit of no sense": (GOOD.replace(",mL,", ",3x,"), "in.csv: row 2, column unit: '3x' is not a unit"),
    "colder than cold": (GOOD.replace(",21,", ",-300,"), "in.csv: row 2, column storage_c: "),
    "a lot too long": (GOOD.replace("A-1", "A" * 61), "in.csv: row 2, column lot: "),
    "a quote not closed": (GOOD.replace("A-1", '"A-1'), "can't be read as a table"),
    "Latin-1": (GOOD.replace("cabinet", "caf\xe9").encode("latin-1"), "in.csv: row 2: is not text in UTF-8"),
    "a zip file": (b"PK\x03\x04\x00\x00", "in.csv: holds bytes that are no text"),
}


@pytest.mark.parametrize("case", FAULTS.values(), ids=FAULTS.keys())
def test_faults_name_row_and_column(case: tuple[str | bytes, str]) -> None:
    content, said = case
    with pytest.raises(BadInput) as refused:
        read(content)
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
    store = MemoryStore()
    record(store, [received("CA-7")])
    with pytest.raises(Faults, match="lot CA-7: is there already"):
        take_in(store, read(GOOD), "in.csv")
    with pytest.raises(Faults):
        take_in(store, read(GOOD), "in.csv", write=False)
    assert len(store.events()) == 1


def test_a_dry_run_writes_nothing() -> None:
    store = MemoryStore()
    assert len(take_in(store, read(GOOD), "in.csv", write=False)) == 3
    assert store.events() == []


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
    out = shelf_csv(fold(store.events()).lots.values())
    assert out.splitlines()[0] == HEADER
    back = MemoryStore()
    resolved = drafts_in(out.encode(), "out.csv", lambda words: words, at="2027-03-01", who="kim")
    take_in(back, resolved, "out.csv")
    now, then = fold(back.events()).lots, fold(store.events()).lots
    assert list(now) == ["A-1"], "what is empty is not on the shelf"
    assert now["A-1"]._replace(last_at="") == then["A-1"]._replace(last_at="")


def saved_again(content: str, decimal_commas: bool = False) -> bytes:
    """As a spreadsheet would save the file: with tabs as Unicode text, or with semicolons and decimal commas."""
    rows = [list(row) for row in csv.reader(io.StringIO(content, newline=""))]
    if decimal_commas:
        rows = [[re.sub(r"^(-?\d+)\.(\d+)$", r"\1,\2", cell) for cell in row] for row in rows]
    out = io.StringIO()
    csv.writer(out, delimiter=";" if decimal_commas else "\t").writerows(rows)
    return ("\ufeff" + out.getvalue()).encode("utf-8" if decimal_commas else "utf-16-le")


@settings(max_examples=150, deadline=None)
@given(st.lists(any_draft(), min_size=1, max_size=25))
def test_any_history_goes_out_and_comes_back_the_same(sequence: list[dict[str, Any]]) -> None:
    store = whatever_is_allowed(sequence)
    events = store.events()
    if not events:
        return
    files = {
        "json": json.dumps(history_json(events)).encode(),
        "csv": history_csv(events).encode(),
        "spreadsheet": saved_again(history_csv(events)),
    }
    for name, content in files.items():
        back = MemoryStore()
        take_in(back, drafts_in(content, name, resolve, at="2027-03-01", who="nobody"), name)
        assert back.events() == events, name
        assert fold(back.events()) == fold(events), name


def test_every_field_of_an_event_has_its_column() -> None:
    from kb.stock import events as models

    fields = {name for model in models._MODELS.values() for name in model.model_fields}
    assert fields == set(HISTORY_COLUMNS)


def test_a_logged_temperature_survives_a_spreadsheet() -> None:
    store = shelf(GOOD)
    logged = {"type": "temperature-logged", "at": "2027-03-01", "who": "kim", "lot": "CA-7", "location": "fridge"}
    figures = {"hours": 71.5, "low_c": -0.5, "high_c": 25.0, "mkt_c": 9.125, "spent_days": 0.000012}
    record(store, [{**logged, "since": "2027-02-01T00:10", "until": "2027-02-04", **figures, "excursion": "too hot"}])
    back = MemoryStore()
    content = saved_again(history_csv(store.events()), decimal_commas=True)
    assert b";9,125;" in content
    take_in(back, drafts_in(content, "h.csv", resolve, "2027-03-01", "kim"), "h.csv")
    assert back.events() == store.events()


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
    content = breaking(json.dumps(history_json(shelf(GOOD).events())))
    with pytest.raises(BadInput) as refused:
        take_in(MemoryStore(), read(content), "in.json")
    assert "\n" not in str(refused.value)


def test_a_history_goes_into_an_empty_workspace_only() -> None:
    content = json.dumps(history_json(shelf(GOOD).events()))
    store = MemoryStore()
    record(store, [received("other")])
    for write in (True, False):
        with pytest.raises(BadInput, match="a history goes into an empty workspace only"):
            take_in(store, read(content), "in.json", write=write)
    assert len(store.events()) == 1


def test_thousands_of_rows_go_in_as_one(tmp_path: Any) -> None:
    from kb.stock.log.tinystore import TinyStore

    rows = "".join(f"acetone,L{n},5,mL,{date(2027, 1, 1).isoformat()},,,,,\n" for n in range(5000))
    store = TinyStore(tmp_path)
    take_in(store, read(HEADER + "\n" + rows), "in.csv")
    assert len(TinyStore(tmp_path).events()) == 5000
    assert TinyStore(tmp_path).verify().problems == ()
