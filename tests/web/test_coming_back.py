"""Whoever must come in anew comes back to where they were, with what they had typed."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from kb.web.settings import Settings
from tests.web.addresses import BOARD, fill
from tests.web.conftest import TODAY
from tests.web.serving import in_thread

TOKEN = "a-token-of-the-tests-own"


@pytest.fixture
def page(chromium: Any, tmp_path: Path) -> Iterator[Any]:
    """A page of a server with a token, by somebody who was let in."""
    fill(tmp_path)
    with in_thread(Settings(workspace=tmp_path, today=lambda: TODAY, who="kim", token=TOKEN)) as site:
        context = chromium.new_context(base_url=site)
        found = context.new_page()
        found.goto("/enter?next=/shelf")
        enter(found)
        yield found
        context.close()


def enter(page: Any) -> None:
    page.get_by_label("The server's token").fill(TOKEN)
    page.get_by_role("button", name="Enter").click()
    page.wait_for_url(lambda address: "/enter" not in address)


def test_a_form_that_was_sent_too_late_is_filled_again(page: Any) -> None:
    page.goto("/shelf/lots/IPA-31")
    page.locator("summary", has_text="Move").click()
    moved = page.locator("form", has=page.locator("input[name=event][value=moved]"))
    moved.locator("input[name=location]").fill("behind the oven")
    moved.locator("input[name=reason]").fill("it was in the way")
    page.context.clear_cookies()
    moved.get_by_role("button").click()
    assert "What you typed is kept" in page.locator("main").inner_text()
    # A mistyped token loses nothing.
    page.get_by_label("The server's token").fill("not the token of it")
    page.get_by_role("button", name="Enter").click()
    page.get_by_text("That is not the token").wait_for()
    enter(page)
    assert page.url.endswith("/shelf/lots/IPA-31")
    moved = page.locator("form", has=page.locator("input[name=event][value=moved]"))
    assert moved.locator("input[name=location]").is_visible()
    assert moved.locator("input[name=location]").input_value() == "behind the oven"
    assert moved.locator("input[name=reason]").input_value() == "it was in the way"
    moved.get_by_role("button").click()
    page.wait_for_url("**/shelf/lots/IPA-31?done=*")
    assert "behind the oven" in page.locator("main").inner_text()
    page.goto("/shelf/lots/IPA-31")
    again = page.locator("form", has=page.locator("input[name=event][value=moved]"))
    assert again.locator("input[name=reason]").input_value() == "", "what was recorded isn't typed again"


def test_the_job_that_was_typed_meanwhile_is_come_back_to(page: Any) -> None:
    page.goto("/")
    page.get_by_label("What is the part made of?").fill("brass")
    page.get_by_label("Lowest service temperature").fill("10")
    page.context.clear_cookies()
    page.get_by_label("Highest service temperature").fill("60")
    page.get_by_label("Highest service temperature").blur()
    page.get_by_role("link", name="Enter, and come back to these entries").click()
    enter(page)
    assert "part.substrate=brass" in page.url
    assert page.get_by_label("Highest service temperature").input_value() == "60"


def test_a_run_whose_person_was_signed_out_goes_on_where_it_was(page: Any) -> None:
    """It isn't the network: the run says so, leads to the door, and what was done meanwhile is kept."""
    page.goto(f"/bench-run?{BOARD}&gauges=1")
    page.get_by_label("Who does the work?").fill("kim")
    page.get_by_role("button", name="Start").click()
    page.locator(".state", has_text="All is kept").wait_for()
    page.context.clear_cookies()
    # A press at once after the one before would count as the same.
    page.wait_for_timeout(500)
    page.locator(".step button.go").click()
    page.get_by_role("alert").get_by_text("You are signed out").wait_for()
    assert "no network" not in page.locator(".state").inner_text()
    page.get_by_role("link", name="Enter, and come back to this step").click()
    enter(page)
    page.locator(".state", has_text="All is kept").wait_for()
    assert "Step 2 of" in page.locator(".step .where").inner_text()
