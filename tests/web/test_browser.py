"""The main job as people do it: with a mouse, with the keyboard alone, and without scripts."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from tests.web.addresses import BOARD

ANSWERED = "#answer article.chain"
#: A refusal that was meant, and a question given up for a later one. Where a request ends without an answer htmx says
#: `afterRequest` first, then what ended it: `sendError` and `timeout` stay complaints.
MEANT = ("409", "htmx:sendAbort", "htmx:afterRequest")


@pytest.fixture
def page(chromium: Any, site: str) -> Iterator[Any]:
    """A page with scripts; whatever the browser complains of is a fault, but for what is meant."""
    context = chromium.new_context(base_url=site)
    found = context.new_page()
    complaints: list[str] = []
    found.on(
        "console",
        lambda m: (
            complaints.append(m.text)
            if m.type in ("error", "warning") and not any(meant in m.text for meant in MEANT)
            else None
        ),
    )
    found.on("pageerror", lambda e: complaints.append(str(e)))
    yield found
    context.close()
    assert complaints == []


def test_by_mouse_each_answer_shows_at_once_what_it_changed(page: Any) -> None:
    page.goto("/")
    page.get_by_label("What is the part made of?").fill("7075-T651 plate")
    page.get_by_label("Lowest service temperature").fill("10")
    page.get_by_label("Highest service temperature").fill("60")
    page.get_by_label("Highest service temperature").blur()
    page.wait_for_selector(ANSWERED)
    assert "Bond with" in page.locator("#summary").inner_text()
    assert "service.temperature_c.1=60" in page.url
    page.get_by_label("sea water immersion").check()
    page.wait_for_selector(".change")
    change = page.locator(".change").inner_text()
    assert "What it is exposed to: dry air → sea water immersion" in change
    assert "more refused" in change
    page.get_by_role("link", name="What was refused, and why").click()
    page.locator("summary", has_text="adhesive:").click()
    assert page.get_by_text("sea water").first.is_visible()


def test_a_later_question_replaces_one_that_is_still_being_answered(page: Any) -> None:
    held: list[Any] = []
    page.route("**/choose/answer*", lambda route: route.continue_() if held else held.append(route))
    page.goto("/")
    page.get_by_label("What is the part made of?").fill("alumina")
    page.get_by_label("Lowest service temperature").fill("15")
    page.get_by_label("Highest service temperature").fill("80")
    with page.expect_request("**/choose/answer*80*"):
        page.get_by_label("Highest service temperature").blur()
    page.get_by_label("Highest service temperature").fill("90")
    page.get_by_label("Highest service temperature").blur()
    page.wait_for_selector(ANSWERED)
    assert held
    assert "service.temperature_c.1=90" in page.url


def test_by_keyboard_alone(page: Any) -> None:
    page.goto("/")
    keyboard = page.keyboard
    keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "To the content"
    keyboard.press("Enter")

    def tab_to(wanted: str, most: int = 250) -> None:
        for _ in range(most):
            keyboard.press("Tab")
            here = page.evaluate(
                "(() => { const e = document.activeElement; return [e.name || '', e.textContent.trim(),"
                " getComputedStyle(e).outlineStyle] })()"
            )
            if wanted in here[:2]:
                assert here[2] != "none", f"{wanted} doesn't show that it has the focus"
                return
        raise AssertionError(f"{wanted} can't be reached with the keyboard")

    for name, words in (
        ("part.substrate", "alumina"),
        ("service.temperature_c.0", "15"),
        ("service.temperature_c.1", "80"),
    ):
        tab_to(name)
        keyboard.type(words)
    keyboard.press("Enter")
    page.wait_for_url("**/?*part.substrate=alumina*")
    page.wait_for_selector(ANSWERED)
    tab_to("Bench sheet")
    keyboard.press("Enter")
    page.wait_for_url("**/sheet?*")
    assert "alumina" in page.content()


def test_without_scripts(chromium: Any, site: str) -> None:
    context = chromium.new_context(base_url=site, java_script_enabled=False)
    page = context.new_page()
    page.goto("/")
    page.get_by_label("What is the part made of?").fill("ptfe")
    page.get_by_label("Lowest service temperature").fill("0")
    page.get_by_label("Highest service temperature").fill("60")
    page.get_by_role("button", name="Find the chain").click()
    assert page.locator(ANSWERED).count() == 3
    # Nothing bonds to a fluoropolymer that only was cleaned: common practice, no source.
    assert page.locator(ANSWERED).first.locator("dt", has_text="Treat").first.is_visible()
    page.get_by_label("Highest service temperature").fill("320")
    page.get_by_role("button", name="Find the chain").click()
    assert "No chain suits this job." in page.locator("#summary").inner_text()
    assert "→ 320" in page.locator(".change").inner_text()
    page.locator("#answer ul a", has_text="keep the service at").first.click()
    assert page.locator(ANSWERED).count() >= 1, "the way out that was offered leads to no chain"
    context.close()


def test_a_careless_form_is_answered_in_one_line(page: Any) -> None:
    page.goto("/")
    page.get_by_label("What is the part made of?").fill("unobtainium <script>alert(1)</script>")
    page.get_by_label("Lowest service temperature").fill("warm")
    page.get_by_role("button", name="Find the chain").click()
    said = page.locator("#summary").inner_text()
    assert said.startswith("Not yet: ")
    assert "highest" in said
    page.get_by_label("Highest service temperature").fill("20")
    page.get_by_role("button", name="Find the chain").click()
    assert "'warm' is not a number" in page.locator("#summary").inner_text()


def test_a_handheld_scanner_brings_a_pack_in_and_the_shelf_says_what_may_be_used(page: Any) -> None:
    page.goto("/shelf")
    assert "CA-05" in page.locator("details", has_text="Must not be used").first.inner_text()
    # A scanner types what it reads where the focus is, and ends with Enter: common practice, no source.
    page.keyboard.type("01040123456789011729013110CA-09")
    page.keyboard.press("Enter")
    page.wait_for_url("**/shelf/receive?*")
    assert page.get_by_label("Lot", exact=False).and_(page.locator("#lot")).input_value() == "CA-09"
    for label, said in (("Item", "ethyl cyanoacrylate, low viscosity"), ("Amount", "20"), ("Unit", "g")):
        page.locator("label", has_text=label).first.click()
        page.keyboard.type(said)
    page.get_by_role("button", name="Receive").click()
    page.wait_for_url("**/shelf/lots/CA-09*")
    assert "20 g" in page.locator("main").inner_text()
    page.goto(f"/pick?{BOARD}")
    row = page.locator("tr", has_text="ethyl cyanoacrylate").inner_text()
    assert "CA-07" in row, "first expired, first out"
    assert "not CA-05: expired" in row
    page.goto("/shelf/lots/CA-05")
    page.get_by_label("Amount").first.fill("1")
    page.get_by_role("button", name="Use").click()
    assert "expired" in page.locator("[role=alert]").inner_text()
    page.goto("/shelf/lots/CA-05")
    assert "20 g left" in page.locator("main").inner_text(), "nothing was taken"
