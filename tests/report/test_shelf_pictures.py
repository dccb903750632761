"""Pictures of the shelf: well formed, safe, and readable in words."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from decimal import Decimal
from html import unescape

import pytest

from kb.report.pictures.shelf import expiry_picture
from kb.stock.lots import Lot
from tests.stock.lots import NASTY, SVG, lot, shelf

LOTS = (
    lot("late", expires="2031-01-01"),
    lot("soon", expires="2027-03-20"),
    lot("gone", expires="2027-01-31"),
    lot("none"),
    lot("empty", expires="2027-03-20", quantity=Decimal(0)),
    lot(NASTY, item=NASTY, expires="2028-01-31"),
)


def test_the_picture_says_in_words_what_it_shows() -> None:
    root = ET.fromstring(expiry_picture(shelf(*LOTS), "2027-03-01").svg)
    assert root.get("role") == "img"
    title, told = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert title is not None
    assert told is not None
    assert root.get("aria-labelledby") == f"{title.get('id')} {told.get('id')}"
    assert title.text == "Last days of 5 lots, on 2027-03-01"
    assert (told.text or "").split("; ") == [
        "gone, acetone: 2027-01-31, expired",
        "soon, acetone: 2027-03-20, expires-soon",
        f"{NASTY}, {NASTY}: 2028-01-31, in-date",
        "late, acetone: 2031-01-01, in-date",
        "none, acetone: last day not known, in-date",
    ]


def test_states_are_told_without_colour() -> None:
    picture = expiry_picture(shelf(*LOTS), "2027-03-01").svg
    root = ET.fromstring(picture)
    words = " ".join(text.text or "" for text in root.iter(f"{SVG}text"))
    assert "2027-01-31 expired" in words
    assert "2031-01-01 →" in words
    dashes = {line.get("stroke-dasharray") for line in root.iter(f"{SVG}line") if line.get("stroke-width") == "7"}
    assert {None, "9 4", "2 3"} <= dashes
    assert "#" not in unescape(picture)


@pytest.mark.parametrize("lots", [(), (lot("none"),), (lot("today", expires="2027-03-01"),), LOTS])
def test_any_shelf_can_be_drawn(lots: tuple[Lot, ...]) -> None:
    root = ET.fromstring(expiry_picture(shelf(*lots), "2027-03-01").svg)
    width = float((root.get("viewBox") or "").split()[2])
    places = [float(value) for line in root.iter(f"{SVG}line") for value in (line.get("x1"), line.get("x2")) if value]
    assert all(0 <= place <= width for place in places)
