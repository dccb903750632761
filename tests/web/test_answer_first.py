"""The answer first: on the first screen of a phone, light on the wire, never a stale one; the job goes along."""

from __future__ import annotations

import gzip
from collections.abc import Iterator
from typing import Any

import pytest

from kb.web.static_files import STATIC
from tests.web.addresses import BOARD, BRACKET

#: A small phone, less what its browser takes of the screen.
PHONE = {"width": 360, "height": 640}
#: What may come over the wire until the first answer stands there.
MOST_BYTES = 60_000
#: A line of the third generation, in bytes a second and ms.
SLOW_LINE = {"offline": False, "latency": 150, "downloadThroughput": 200_000, "uploadThroughput": 90_000}
#: From the first byte of the answer until it can be used.
MOST_MS = 2000


@pytest.fixture
def phone(chromium: Any, site: str) -> Iterator[Any]:
    context = chromium.new_context(base_url=site, viewport=PHONE, has_touch=True, is_mobile=True)
    yield context.new_page()
    context.close()


@pytest.mark.parametrize("query", [BOARD, BRACKET])
def test_chain_time_stops_and_the_next_step_are_on_the_first_screen(phone: Any, query: str) -> None:
    phone.goto(f"/?{query}")
    for part in (".card h2", ".card .ready", ".card .stops", ".card .next .button"):
        box = phone.locator(part).first.bounding_box()
        assert box["y"] >= 0, part
        assert box["y"] + box["height"] <= PHONE["height"], f"{part} is below the first screen"


@pytest.mark.parametrize(
    ("address", "told"),
    [
        ("/pair?thing=acetone&thing=polycarbonate", "h2:has(.verdict)"),
        (f"/amounts?{BOARD}", "p:has-text('good ones')"),
        (f"/why?{BOARD}&item=epoxy-phenolic-medium", "h1 .verdict"),
        (f"/compare?{BRACKET}&a=1&b=2", "p:has-text('count')"),
        ("/shelf", "a:has-text('CA-05')"),
        (f"/pick?{BOARD}", ".verdict"),
    ],
)
def test_what_was_asked_for_is_told_on_the_first_screen(address: str, told: str, phone: Any) -> None:
    phone.goto(address)
    box = phone.locator(f"main {told}").first.bounding_box()
    assert box["y"] + box["height"] <= PHONE["height"]


@pytest.mark.parametrize(("address", "where"), [(f"/?{BRACKET}", ".job-pages"), (f"/room?{BRACKET}", ".jobbar nav")])
def test_all_pages_of_a_job_are_seen_without_a_swipe(address: str, where: str, phone: Any) -> None:
    phone.goto(address)
    row = phone.locator(f"{where} ul")
    assert row.evaluate("(one) => one.scrollWidth - one.clientWidth") == 0
    assert len([link for link in row.locator("a").all() if link.is_visible()]) >= 10


def test_the_first_answer_is_light_on_the_wire(phone: Any) -> None:
    sizes: dict[str, int] = {}
    phone.on("requestfinished", lambda r: sizes.__setitem__(r.url, r.sizes()["responseBodySize"]))
    phone.goto(f"/?{BRACKET}")
    phone.wait_for_load_state("networkidle")
    assert any("/?" in address for address in sizes)
    assert any("htmx" in address for address in sizes)
    assert sum(sizes.values()) < MOST_BYTES, sizes


def test_on_a_slow_line_it_can_be_used_soon(phone: Any) -> None:
    line = phone.context.new_cdp_session(phone)
    line.send("Network.enable")
    line.send("Network.emulateNetworkConditions", SLOW_LINE)
    phone.goto(f"/?{BRACKET}")
    phone.wait_for_load_state("load")
    took = phone.evaluate("performance.getEntriesByType('navigation')[0].toJSON()")
    # The scripts have run by then: what stands there answers to a finger.
    assert took["domContentLoadedEventEnd"] - took["responseStart"] < MOST_MS, took
    assert took["loadEventEnd"] - took["responseStart"] < MOST_MS, took


def test_what_never_changes_is_not_sent_again(phone: Any) -> None:
    phone.goto("/")
    assert phone.request.get("/static/style.css").headers["cache-control"] == "no-cache"
    assert len(gzip.compress((STATIC / "htmx.min.js").read_bytes())) < MOST_BYTES / 3


def test_a_failed_update_takes_the_old_answer_away(phone: Any) -> None:
    phone.goto(f"/?{BRACKET}")
    assert phone.locator("#answer article.chain").count()
    phone.route("**/choose/answer*", lambda route: route.abort())
    phone.get_by_label("salt fog").check()
    phone.get_by_text("No answer came").wait_for()
    assert phone.locator("#answer article.chain").count() == 0
    assert phone.locator("#summary").inner_text().startswith("No answer")
    phone.unroute("**/choose/answer*")
    phone.get_by_role("button", name="Ask again").click()
    phone.locator("#answer article.chain").first.wait_for()
    assert "No answer" not in phone.locator("#summary").inner_text()


def test_a_slow_answer_is_seen_to_be_awaited_and_the_last_question_wins(phone: Any) -> None:
    phone.goto(f"/?{BRACKET}")
    held: list[Any] = []
    phone.route("**/choose/answer*", lambda route: held.append(route))
    phone.get_by_label("salt fog").check()
    phone.locator("#answer[aria-busy=true]").wait_for()
    assert "Working" in phone.locator("#summary").inner_text()
    phone.unroute("**/choose/answer*")
    phone.get_by_label("salt fog").uncheck()
    phone.wait_for_url(lambda address: "salt-fog" not in address)
    phone.locator("#answer:not([aria-busy])").wait_for()
    assert phone.locator("#answer article.chain").count()


def test_material_is_confirmed_while_it_is_typed_by_any_of_its_names(phone: Any) -> None:
    phone.goto("/")
    for typed, family in (
        ("7075-T651 plate", "aluminium alloy"),
        ("glass filled nylon", "polyamide"),
        ("board with green mask", "solder mask"),
    ):
        phone.get_by_label("What is the part made of?").fill(typed)
        phone.locator("#material", has_text=family).wait_for()


def test_a_material_that_is_not_clear_is_chosen_by_a_button(phone: Any) -> None:
    phone.goto("/?part.substrate=nylon+brass&service.temperature_c.0=0&service.temperature_c.1=60")
    field = phone.get_by_label("What is the part made of?")
    assert field.get_attribute("aria-invalid") == "true"
    phone.locator("#job .question .choices button").first.click()
    phone.locator("#answer article.chain").first.wait_for()


def test_the_menu_keeps_the_job_and_the_device_remembers_it(phone: Any) -> None:
    phone.goto(f"/?{BRACKET}")
    phone.get_by_role("link", name="Pairs", exact=True).click()
    assert "part.substrate=Ti-6Al-4V" in phone.url
    phone.get_by_role("link", name="Amounts", exact=True).click()
    assert phone.locator(".jobbar").get_by_text("Ti-6Al-4V").is_visible()
    phone.goto("/rules")
    phone.locator("#device-job a").click()
    assert "part.substrate=Ti-6Al-4V" in phone.url
    phone.goto("/")
    assert phone.locator("#recent li").count() == 1
    phone.get_by_role("button", name="Forget them").click()
    phone.goto("/")
    assert phone.locator("#recent").is_hidden()


def test_why_not_is_asked_beside_the_answer(phone: Any) -> None:
    phone.goto(f"/?{BOARD}")
    phone.get_by_label("Why not …?").fill("epoxy-phenolic in some solvent")
    phone.keyboard.press("Enter")
    phone.wait_for_url("**/why?*")
    assert "out" in phone.locator("h1").inner_text()


def test_an_alternative_is_taken_with_one_press_and_kept_on_every_page(phone: Any) -> None:
    phone.goto(f"/?{BRACKET}")
    card = phone.locator(".others li").first
    bond = card.inner_text().splitlines()[1]
    card.get_by_role("link", name="Take this one").click()
    assert phone.locator(".card h2").inner_text().lower() == bond.lower()
    assert "This job keeps what was chosen" in phone.locator("#answer").inner_text()
    phone.get_by_role("link", name="Amounts", exact=True).first.click()
    assert f"chosen: {bond}" in phone.locator(".jobbar").inner_text()
    phone.go_back()
    phone.get_by_role("link", name="Let the rules choose again").click()
    assert phone.locator(".card h2").inner_text().lower() != bond.lower()
