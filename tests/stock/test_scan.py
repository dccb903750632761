"""Scanned codes: what is read, what is refused, and what is a lot that somebody typed. All numbers are invented."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.base.errors import BadInput
from kb.stock.products import Products, product_of, products_in
from kb.stock.scan import SEPARATOR, house_code, is_code, lot_named, read
from kb.stock.tables import Faults

TODAY = "2027-03-01"
GTIN = "04012345678901"

SAME = {
    "as a scanner sends it": f"]d201{GTIN}10AB12{SEPARATOR}17280131",
    "with a leading separator": f"]d2{SEPARATOR}01{GTIN}10AB12{SEPARATOR}17280131",
    "without a symbology mark": f"01{GTIN}1728013110AB12",
    "separator typed": f"01{GTIN}10AB12<GS>17280131",
    "as printed below the code": f"(01){GTIN}(17)280131(10)AB12",
    "line end of the scanner": f"01{GTIN}1728013110AB12\r\n",
}


@pytest.mark.parametrize("words", SAME.values(), ids=SAME.keys())
def test_the_same_code_in_many_ways(words: str) -> None:
    found = read(words, TODAY)
    assert (found.gtin, found.lot, found.expires) == (GTIN, "AB12", "2028-01-31")
    assert lot_named(words, TODAY) == "AB12"


def test_the_earlier_of_best_before_and_expiry_counts() -> None:
    found = read(f"01{GTIN}1526123117280131112601301099", TODAY)
    assert (found.expires, found.made, found.lot) == ("2026-12-31", "2026-01-30", "99")


REFUSED = {
    "nothing": ("", "is not a GS1 code"),
    "words": ("hello", "is not a GS1 code"),
    "an unknown field": ("]d26812345", "is not a GS1 code"),
    "a wrong check digit": (f"01{GTIN[:-1]}2", "check digit"),
    "no such day": (f"01{GTIN}17270230", "is no day of the calendar"),
    "a field twice": (f"01{GTIN}1728013117280131", "field 17 is there twice"),
    "a lot that swallowed the expiry": (f"01{GTIN}10AB1217280131", "give --lot AB12, if that is the lot"),
    "a lot that swallowed the making": (f"01{GTIN}10AB1211260131", "seems to hold a date (11)"),
    "a serial that swallowed the expiry": (f"01{GTIN}21S717280131", "the serial 'S717280131' seems to hold a date"),
}


@pytest.mark.parametrize("case", REFUSED.values(), ids=REFUSED.keys())
def test_refused(case: tuple[str, str]) -> None:
    words, said = case
    with pytest.raises(BadInput) as refused:
        read(words, TODAY)
    assert said in str(refused.value)


def test_a_lot_that_only_looks_like_a_date_is_kept_where_the_date_is_there() -> None:
    assert read(f"01{GTIN}1728013110AB1217280131", TODAY).lot == "AB1217280131"


def test_digits_that_are_no_plausible_date_are_a_lot() -> None:
    assert read(f"01{GTIN}10AB17991399", TODAY).lot == "AB17991399"


def test_a_lot_given_by_hand_ends_what_was_swallowed_and_must_agree() -> None:
    assert read(f"01{GTIN}10AB1217280131", TODAY, lot="AB12").expires == "2028-01-31"
    with pytest.raises(BadInput, match="the code says lot AB12, and you say X9"):
        read(f"01{GTIN}1728013110AB12", TODAY, lot="X9")


@given(st.text(min_size=1, max_size=60))
def test_house_labels_say_any_name_of_a_lot(mark: str) -> None:
    assert house_code(mark).isascii()
    assert read(house_code(mark), TODAY).lot == mark


@given(st.text(min_size=1, max_size=60))
def test_a_label_that_a_camera_opens_says_so_too(mark: str) -> None:
    for server in ("http://lab.local:8765", "https://lab.example/bench/"):
        code = house_code(mark, server)
        assert code.startswith(f"{server.rstrip('/')}/shelf/lots/")
        assert is_code(f"{code}\r")
        assert read(code, TODAY).lot == mark


@pytest.mark.parametrize(
    "words", ["http://lab/shelf", "http://lab/shelf/lots/", "http:///shelf/lots/A", "shelf/lots/A-1"]
)
def test_another_address_is_no_label(words: str) -> None:
    assert not is_code(words)


@given(st.text(max_size=80))
def test_no_text_at_all_makes_it_fall_over(words: str) -> None:
    try:
        read(words, TODAY)
    except BadInput as refused:
        assert "\n" not in str(refused)  # noqa: PT017


@pytest.mark.parametrize("typed", ["A-17", "10AB12", "0112", "L(01)", "2027/3"])
def test_what_somebody_types_is_no_code(typed: str) -> None:
    assert not is_code(typed)
    assert lot_named(typed, TODAY) == typed


# -- the house table of products


def table(folder: Path, content: str) -> Products:
    (folder / "products.csv").write_text(content, encoding="utf-8")
    return Products.load(folder)


def test_the_table_links_numbers_to_items_and_comes_back_the_same(tmp_path: Path) -> None:
    products = Products.load(tmp_path)
    assert products.by_gtin == {}
    linked = product_of("4012345678901", "acetone", "2.50", "ml", 21, lambda words: f"{words}-id")
    products.put([linked])
    again = Products.load(tmp_path)
    assert again.by_gtin == {GTIN: linked}
    assert again.lead_days == {"acetone-id": 21}
    other = product_of("00012345678905", "ethanol", None, "", None, str)
    again.put([other, linked])
    assert products_in(Products.load(tmp_path).table().encode(), "out.csv") == [linked, other]


def test_the_table_of_an_earlier_version_is_read_until_something_is_linked(tmp_path: Path) -> None:
    found = table(tmp_path, "gtin,item,quantity,unit,lead_days\n4012345678901,acetone,500,mL,14\n")
    assert found.by_gtin[GTIN].item == "acetone"
    found.put([product_of("00012345678905", "ethanol", None, "", None, str)])
    (tmp_path / "products.csv").unlink()
    assert set(Products.load(tmp_path).by_gtin) == {GTIN, "00012345678905"}


def test_a_product_that_somebody_edited_amiss_is_named(tmp_path: Path) -> None:
    Products.load(tmp_path).put([product_of("4012345678901", "acetone", "5", "mL", None, str)])
    path = tmp_path / "documents.json"
    path.write_text(path.read_text().replace('"5"', '"much"'))
    with pytest.raises(BadInput, match="product 04012345678901: 'much' is not a number") as refused:
        Products.load(tmp_path)
    assert "\n" not in str(refused.value)


def test_a_wrong_number_is_not_linked() -> None:
    with pytest.raises(BadInput, match="its check digit is wrong"):
        product_of("4012345678902", "acetone", None, "", None, str)


def test_faults_in_the_table_name_row_and_column(tmp_path: Path) -> None:
    with pytest.raises(Faults) as refused:
        table(tmp_path, "gtin,item,quantity,unit,lead_days\n4.01E+12,acetone,,,\n4012345678901,,x,3x,1.5\n")
    assert [fault.where for fault in refused.value.each] == [
        "products.csv: row 2, column gtin",
        "products.csv: row 3, column item",
        "products.csv: row 3, column quantity",
        "products.csv: row 3, column unit",
        "products.csv: row 3, column lead_days",
    ]
