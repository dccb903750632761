"""A field that stands against a page is asked for again: what is wrong beside it, and all else as it was."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

import pytest

from tests.web.addresses import BOARD

#: Pages, the field that somebody mistyped on each, and a word of what is said beside it.
MISTYPED = [
    (f"/amounts?{BOARD}", "batch.boards", "forty", "a whole number"),
    (f"/room?{BOARD}&measured=yes", "bench.air_temperature_c", "warm", "a number with a unit"),
    (f"/room?{BOARD}", "activated_h", "an hour", "no number of hours"),
    (f"/pick?{BOARD}", "on", "01/03/2027", "2027-03-01"),
    (f"/bench-run?{BOARD}", "gauges", "a dozen", "1 to 48"),
    (f"/why?{BOARD}", "item", "<b>glue</b> 77", "no item that is known"),
    ("/shelf?item=acetone", "on", "2027-02-31", "no day"),
]


@pytest.fixture
def page(chromium: Any, site: str) -> Any:
    context = chromium.new_context(base_url=site, viewport={"width": 360, "height": 640})
    yield context.new_page()
    context.close()


@pytest.mark.parametrize(("address", "name", "typed", "said"), MISTYPED)
def test_what_was_mistyped_is_asked_for_again(address: str, name: str, typed: str, said: str, page: Any) -> None:
    answer = page.goto(f"{address}&{name}={quote(typed)}")
    assert answer.status == 422
    field = page.locator(f"main [name='{name}']")
    assert field.get_attribute("aria-invalid") == "true"
    assert field.input_value() in (typed, ""), "a field for days shows no other words"
    beside = page.locator(f"#{field.get_attribute('aria-describedby').split()[0]}").inner_text()
    assert said in beside
    assert "`" not in beside, "nobody at a page has a command"


def test_all_else_is_as_it_was(page: Any) -> None:
    page.goto(f"/amounts?{BOARD}&batch.boards=forty&batch.gauges_per_board=3")
    field = page.locator("main [name='batch.boards']")
    field.fill("40")
    page.keyboard.press("Enter")
    page.get_by_text("for 120 good ones").wait_for()
    assert page.locator(".jobbar").get_by_text("solder-masked board").is_visible()


def test_a_fault_of_no_field_is_a_problem_as_it_was(page: Any) -> None:
    assert page.goto(f"/amounts?{BOARD}&chain=99999").status == 422
    assert page.locator("h1").inner_text() == "Not done"


def test_what_a_form_that_writes_lacks_is_said_at_its_field(page: Any) -> None:
    page.goto("/shelf/lots/IPA-31")
    used = page.locator("form", has=page.locator("input[name=event][value=used]"))
    used.locator("[name=quantity]").fill("a drop")
    used.locator("[name=job]").fill("motor 7 \U0001f600")
    used.get_by_role("button").click()
    field = page.locator("#used-quantity")
    assert field.get_attribute("aria-invalid") == "true"
    assert "not a number" in page.locator("#used-quantity-fault").inner_text()
    assert (field.input_value(), page.locator("#used-job").input_value()) == ("a drop", "motor 7 \U0001f600")
    assert page.locator("#counted-quantity").get_attribute("aria-invalid") is None, "that is another form"


def test_a_reading_that_is_none_is_said_at_its_field_and_a_signature_that_is_refused_beside_the_record(
    page: Any,
) -> None:
    page.goto(f"/record?{BOARD}")
    page.get_by_label("Installations").first.fill("41")
    page.get_by_label("resistance deviation").fill("0.1")
    page.get_by_label("zero return").fill("a lot")
    page.get_by_role("button", name="Record", exact=True).click()
    field = page.get_by_label("zero return")
    assert field.get_attribute("aria-invalid") == "true"
    assert field.input_value() == "a lot"
    assert "zero_return_ue=" not in page.locator("main").inner_text(), "nobody types that at a page"
    field.fill("0.5")
    page.get_by_role("button", name="Record", exact=True).click()
    page.locator("summary", has_text="Sign record").click()
    page.get_by_label("Who signs").fill("kim")
    page.get_by_role("button", name="Approve").click()
    assert "somebody else must look at it" in page.get_by_role("alert").inner_text()
    page.locator("summary", has_text="Sign record").click()
    page.get_by_label("Who signs").fill("lee")
    page.get_by_role("button", name="Approve").click()
    page.locator(".verdict", has_text="approved by lee").wait_for()
