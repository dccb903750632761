"""The tasks of a day at a desk and on a phone, each with a third fewer clicks than it once took: clicks.toml."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.stock.factory import record
from tests.web.addresses import BOARD, BRACKET

TASKS = tomllib.loads(Path(__file__).with_name("clicks.toml").read_text())["tasks"]
SCREENS: dict[str, dict[str, Any]] = {
    "desk": {"viewport": {"width": 1280, "height": 800}},
    "phone": {"viewport": {"width": 360, "height": 640}, "has_touch": True},
}


def most(took: int) -> int:
    """How many clicks a task may take: a third less, but what took one still takes one."""
    return max(1, took * 2 // 3)


class Hand:
    """Does what a task says, and counts what it presses."""

    def __init__(self, page: Any, device: str) -> None:
        self.page, self.clicks = page, 0
        self.words = {"{device}": device, "{number}": str(1 + list(SCREENS).index(device))}

    def does(self, what: dict[str, str]) -> None:
        found = {name: self._filled(words) for name, words in what.items()}
        if "type" in found:
            self._named(found["type"]).fill(found["words"])
        elif "key" in found:
            self.page.keyboard.press(found["key"])
        elif "see" in found:
            self.page.locator(found["see"]).first.wait_for()
        else:
            self.clicks += 1
            self._pressed(found["press"], found["as"])

    def _pressed(self, name: str, role: str) -> None:
        if role in ("summary", "label"):
            self.page.locator(role, has_text=name).first.click()
        else:
            self.page.get_by_role(role, name=name, exact=True).first.click()

    def _named(self, label: str) -> Any:
        """The field with that label that can be seen."""
        return self.page.locator("label:visible", has_text=label).first.locator("xpath=..").locator("input").first

    def _filled(self, words: str) -> str:
        for hole, value in self.words.items():
            words = words.replace(hole, value)
        return words


@pytest.fixture(scope="module", autouse=True)
def lots(workspace: Path) -> None:
    """A lot for each device, to be condemned."""
    came = {"type": "received", "at": "2026-11-02", "who": "kim", "item": "acetone", "quantity": "500", "unit": "mL"}
    record(workspace, [{**came, "lot": f"BAD-{device}"} for device in SCREENS])


@pytest.fixture(params=SCREENS)
def hand(chromium: Any, site: str, request: pytest.FixtureRequest) -> Iterator[Hand]:
    context = chromium.new_context(base_url=site, **SCREENS[request.param])
    yield Hand(context.new_page(), request.param)
    context.close()


@pytest.fixture
def phone(chromium: Any, site: str) -> Iterator[Any]:
    context = chromium.new_context(base_url=site, **SCREENS["phone"])
    yield context.new_page()
    context.close()


@pytest.mark.parametrize("task", TASKS, ids=lambda task: task["name"])
def test_a_task_takes_a_third_fewer_clicks(hand: Hand, task: dict[str, Any]) -> None:
    hand.page.goto(task["at"].replace("BOARD", BOARD).replace("BRACKET", BRACKET))
    for step in task["do"]:
        hand.does(step)
    assert hand.clicks <= most(task["took"][hand.words["{device}"]])


def test_the_sheet_on_a_phone_says_of_each_figure_what_it_is(phone: Any) -> None:
    phone.goto(f"/sheet?{BOARD}&lots=yes")
    assert not phone.locator("thead").first.is_visible()
    row = phone.locator(".chain tr", has_text="CA-07")
    said = row.locator("td[data-says]").evaluate_all(
        "(cells) => cells.map((cell) => getComputedStyle(cell, '::before').content.replaceAll('\"', ''))"
    )
    assert said == ["lot: ", "use by: ", "sheets read: "]


@pytest.mark.parametrize("address", [f"/pick?{BOARD}", f"/amounts?{BOARD}", "/shelf"])
def test_no_table_of_the_day_is_cut_off_on_a_phone(phone: Any, address: str) -> None:
    phone.goto(address)
    beyond = "(boxes) => boxes.map((box) => box.scrollWidth - box.clientWidth)"
    assert set(phone.locator(".scroll:has(table)").evaluate_all(beyond)) == {0}
    says = "(cells) => [...new Set(cells.map((cell) => cell.dataset.says))]"
    assert len(phone.locator("table td[data-says]").evaluate_all(says)) >= 3
