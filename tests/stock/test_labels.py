"""Labels: safe, with a code, and readable in words."""

from __future__ import annotations

import xml.etree.ElementTree as ET

from kb.stock.labels import code_svg, labels_html
from kb.stock.scan import house_code, read
from tests.stock.lots import NASTY, SVG, lot, shelf


def test_labels_are_escaped_and_carry_a_code() -> None:
    page = labels_html(
        shelf(lot(NASTY, expires="2028-01-31", opened="2027-02-01")), lambda _: NASTY, lambda _: {"storage_c": [2, 8]}
    )
    assert "<script>" not in page
    assert "&lt;script&gt;" in page
    assert "2028-01-31" in page
    assert "2 to 8 °C" in page
    assert page.count("<svg") == 1


def test_the_code_holds_the_lot_by_its_house_name() -> None:
    """The symbol itself is the library's; two of the same words are the same, and others differ."""
    assert code_svg(house_code("A")) == code_svg(house_code("A"))
    assert code_svg(house_code("A")) != code_svg(house_code("B"))
    assert ET.fromstring(code_svg(house_code("ü" * 60))).tag == f"{SVG}svg"
    assert read(house_code("A"), "2027-03-01").lot == "A"


def test_a_label_without_a_known_last_day_says_so() -> None:
    assert "not known: read the container" in labels_html(shelf(lot("none")), str, lambda _: {})
