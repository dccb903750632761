"""Every page against axe-core's rules for WCAG 2.2 A and AA, in both themes, at a desk's and at a phone's width."""

from __future__ import annotations

from typing import Any

import pytest

from tests.web.addresses import PAGES

TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
WIDTHS = {"desk": 1280, "phone": 360}
#: axe runs as a script of the test's, which the pages' own policy would forbid.
RUN = "async (tags) => (await axe.run(document, {runOnly: {type: 'tag', values: tags}})).violations"

#: What lies beyond the screen or its own picture, or is too small in it, apart from what can be scrolled sideways.
UNSEEN = """() => {
  const wide = document.documentElement.clientWidth, found = [];
  const scrolls = (e) => e && (["auto", "scroll"].includes(getComputedStyle(e).overflowX) || scrolls(e.parentElement));
  const told = (e) => `${e.tagName} ${e.textContent.trim().slice(0, 60)}`;
  for (const e of document.querySelectorAll("body *:not(.skip)")) {
    const box = e.getBoundingClientRect();
    if (!box.width || !box.height || scrolls(e)) continue;
    if (box.right > wide + 1 || box.left < -1) found.push(`beyond the screen: ${told(e)}`);
    const cut = getComputedStyle(e).overflowX === "hidden" && e.scrollWidth > e.clientWidth + 1;
    if (cut && e.tagName !== "INPUT") found.push(`cut off: ${told(e)}`);
    if (e.tagName !== "text") continue;
    const picture = e.ownerSVGElement.getBoundingClientRect();
    if (box.right > picture.right + 1 || box.left < picture.left - 1) found.push(`beyond its picture: ${told(e)}`);
    const px = parseFloat(getComputedStyle(e).fontSize) * picture.width / e.ownerSVGElement.viewBox.baseVal.width;
    if (px < 12 * 0.99) found.push(`${px.toFixed(1)} px: ${told(e)}`);
  }
  return found.slice(0, 5);
}"""


#: What a thumb may miss on a phone: all that is pressed but links in a sentence and on paper.
TOO_LOW = """() => {
  const found = [];
  for (const e of document.querySelectorAll("a[href], button, input:not([type=hidden]), select, textarea, summary")) {
    if (e.matches(".skip") || !e.checkVisibility()) continue;
    const said = e.textContent.trim(), around = e.parentElement.textContent.trim();
    if (e.tagName === "A" && getComputedStyle(e).display === "inline" && around.length > said.length + 3) continue;
    const high = (e.type === "checkbox" ? e.closest("label") : e).getBoundingClientRect().height;
    if (high < 43.5) found.push(`${high.toFixed(0)} px high: ${e.tagName} ${said.slice(0, 50)}`);
  }
  return found.slice(0, 5);
}"""


@pytest.fixture(scope="module")
def tab(chromium: Any, site: str) -> Any:
    base = pytest.importorskip("axe_playwright_python.base", reason="axe-playwright-python is not installed")
    context = chromium.new_context(base_url=site, bypass_csp=True)
    page = context.new_page()
    page.add_init_script(base.AXE_SCRIPT)
    yield page
    context.close()


@pytest.mark.parametrize("name", PAGES)
def test_nothing_stands_in_anyones_way(tab: Any, name: str) -> None:
    tab.goto(PAGES[name])
    found: list[str] = []
    for width in WIDTHS.values():
        tab.set_viewport_size({"width": width, "height": 900})
        over = tab.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        if over > 0:
            found.append(f"{width} px: the page is {over} px wider than the screen")
        found += [f"{width} px: {unseen}" for unseen in tab.evaluate(UNSEEN)]
        if width < 600:
            found += tab.evaluate(TOO_LOW)
        for theme in ("light", "dark"):
            tab.emulate_media(color_scheme=theme)
            for fault in tab.evaluate(RUN, TAGS):
                where = "; ".join(node["html"][:120] for node in fault["nodes"][:3])
                found.append(f"{width} px, {theme}: {fault['id']}: {fault['help']}: {where}")
    assert found == []
