"""GS1 element strings (topics 12 and 17): whole strings, as a scanner sends them."""

import pytest

from kb.base.errors import BadInput
from kb.stock.products import has_right_check_digit, padded
from kb.stock.scan import read
from tests.outside.published import Entry, cases, entry

#: The century depends on the day of reading: frozen.
TODAY = "2026-06-01"


@pytest.mark.parametrize(
    "known", [entry("gs1-issue113"), entry("gs1-doc"), entry("gs1-c1")], ids=lambda known: known.id
)
def test_element_strings(known: Entry) -> None:
    """From issue 113 of jodal/biip, the library's documentation and that of gs1_barcode_parser."""
    found = read(known.inputs["raw"], TODAY)
    wanted = known.expected
    got = {"01": found.gtin, "10": found.lot, "17": found.expires, "15": found.expires, "21": found.serial}
    assert {number: got[number] for number in wanted} == wanted, known.against(found)


@pytest.mark.parametrize("known", cases(12, "gs1-cd"))
def test_check_digits(known: Entry) -> None:
    """The first is the example of GS1's own page, by way of the library; GS1 modulo 10."""
    payload = known.inputs["payload"]
    right = [digit for digit in range(10) if has_right_check_digit(padded(f"{payload}{digit}"))]
    assert right == [known.expected], known.against(right)


@pytest.mark.parametrize("known", cases(12, "gs1-bad"))
def test_days_that_do_not_exist_are_refused(known: Entry) -> None:
    with pytest.raises(BadInput):
        read(known.inputs["raw"], TODAY)


@pytest.mark.parametrize("known", cases(17, "gs1-00"))
def test_day_00_is_the_last_of_the_month(known: Entry) -> None:
    found = read(f"17{known.inputs['AI17']}", TODAY).expires
    assert found == known.expected, known.against(found)


@pytest.mark.parametrize("known", cases(17, "gs1-century"))
def test_century_by_the_year_of_reading_and_not_of_the_clock(known: Entry) -> None:
    found = read(f"17{known.inputs['YY']:02}0615", f"{known.inputs['reference_year']}-01-01").expires
    assert found == f"{known.expected}-06-15", known.against(found)


def test_a_wrong_check_digit_is_refused_though_the_library_keeps_the_message() -> None:
    good = entry("gs1-doc").inputs["raw"]
    bad = good.replace("07032069804988", "07032069804989")
    with pytest.raises(BadInput, match="the check digit of 07032069804989 is wrong"):
        read(bad, TODAY)


def test_a_lot_without_its_separator_is_not_taken_with_what_it_swallowed() -> None:
    """The string of issue 113 as it was first reported: without the separator."""
    known = entry("gs1-issue113")
    raw = known.inputs["raw"].replace("<GS>", "")
    with pytest.raises(BadInput):
        read(raw, TODAY)
    found = read(raw, TODAY, lot=known.expected["10"])
    assert (found.lot, found.expires, found.serial) == ("2100437", "2016-02-29", "925768618163"), known.against(found)
