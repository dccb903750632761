"""The tasks of a day on a phone, each with no more presses than it may take. Typing and Enter are none."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from tests.web.addresses import BOARD, BRACKET


class Hand:
    """Presses what is pressed, and counts it."""

    def __init__(self, page: Any) -> None:
        self.page, self.presses = page, 0

    def press(self, role: str, name: str) -> None:
        self.presses += 1
        self.page.get_by_role(role, name=name, exact=True).first.click()

    def type(self, label: str, words: str) -> None:
        self.page.get_by_label(label).first.fill(words)


@pytest.fixture
def hand(chromium: Any, site: str) -> Iterator[Hand]:
    context = chromium.new_context(base_url=site, viewport={"width": 360, "height": 640}, has_touch=True)
    yield Hand(context.new_page())
    context.close()


def test_a_chain_takes_one_press(hand: Hand) -> None:
    hand.page.goto("/")
    hand.type("What is the part made of?", "brass")
    hand.type("Lowest service temperature", "0")
    hand.type("Highest service temperature", "60")
    hand.press("button", "Find the chain")
    hand.page.locator(".card h2").wait_for()
    assert hand.presses <= 1


def test_why_something_was_not_taken_takes_none(hand: Hand) -> None:
    hand.page.goto(f"/?{BOARD}")
    for item, standing in (("epoxy-phenolic-medium", "out"), ("methyl-cyanoacrylate-low-viscosity", "behind")):
        hand.page.goto(f"/?{BOARD}")
        hand.type("Why not …?", item)
        hand.page.keyboard.press("Enter")
        hand.page.locator("h1", has_text=standing).wait_for()
    assert hand.presses == 0


def test_another_number_of_parts_takes_one_press(hand: Hand) -> None:
    hand.page.goto(f"/?{BRACKET}")
    hand.press("link", "Amounts")
    hand.type("Parts", "40")
    hand.page.keyboard.press("Enter")
    hand.page.get_by_text("for 80 good ones").wait_for()
    assert hand.presses <= 1


def test_two_things_together_take_one_press(hand: Hand) -> None:
    hand.page.goto("/")
    hand.press("link", "Pairs")
    hand.page.locator("input[name=thing]").nth(0).fill("acetone")
    hand.page.locator("input[name=thing]").nth(1).fill("polycarbonate")
    hand.page.keyboard.press("Enter")
    hand.page.locator(".verdict", has_text="block").first.wait_for()
    assert hand.presses <= 1


def test_the_run_and_the_sheet_are_one_press_from_the_answer(hand: Hand) -> None:
    for name, address in (("Start the bench run", "**/bench-run?*"), ("Bench sheet", "**/sheet?*")):
        hand.page.goto(f"/?{BOARD}")
        hand.presses = 0
        hand.press("link", name)
        hand.page.wait_for_url(address)
        assert hand.presses <= 1


def test_the_sheet_on_a_phone_says_of_each_figure_what_it_is(hand: Hand) -> None:
    hand.page.goto(f"/sheet?{BOARD}&lots=yes")
    assert not hand.page.locator("thead").first.is_visible()
    row = hand.page.locator(".chain tr", has_text="CA-07")
    said = row.locator("td[data-says]").evaluate_all(
        "(cells) => cells.map((cell) => getComputedStyle(cell, '::before').content.replaceAll('\"', ''))"
    )
    assert said == ["lot: ", "use by: ", "sheets read: "]


@pytest.mark.parametrize("address", [f"/pick?{BOARD}", f"/amounts?{BOARD}", "/shelf"])
def test_no_table_of_the_day_is_cut_off_on_a_phone(hand: Hand, address: str) -> None:
    hand.page.goto(address)
    beyond = "(boxes) => boxes.map((box) => box.scrollWidth - box.clientWidth)"
    assert set(hand.page.locator(".scroll:has(table)").evaluate_all(beyond)) == {0}
    says = "(cells) => [...new Set(cells.map((cell) => cell.dataset.says))]"
    assert len(hand.page.locator("table td[data-says]").evaluate_all(says)) >= 3
